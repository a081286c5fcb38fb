"""The projection of one supply: stock, planned and unplanned use, lead times, and what to order by when.

Pure functions on arrays, deterministic: `given` is what goes in, `found` what comes out, `plan.plan_supply` does it.
"""

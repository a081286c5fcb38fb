"""The row of a supply of which only packs are told: a simple rule, buy when the last one is opened."""

from __future__ import annotations

from collections.abc import Sequence

from collection.analysis.offers import Quote, choose_offer
from collection.analysis.stock_plan.found import FINE, ORDER_NOW
from collection.quantity import Money, show_day
from collection.views.drawer import Held
from collection.views.orders import OrderLine
from collection.views.stock_given import Source
from collection.views.stock_rows import StockRow
from collection.views.stock_words import wanted_words


def row_by_pack(source: Source, held: Held) -> StockRow:
    """Return the row of a supply tracked by the pack."""
    supply, lines = held.supply, source.lines.get(held.supply.id, [])
    wanted, unopened = source.wanted_of(supply), held.unopened_on(source.today)
    lacking = not unopened and not any(line.open_packs for line in lines)
    quote = _quote(source, held) if lacking else None
    opened = sum(lot.steps > 0 and lot.opened_on is not None for lot in held.lots)
    form = source.settings.date_form
    says = f"tracked by the pack: {unopened} unopened, {opened} opened; bought when the last one is opened"
    sentences = [
        says,
        *wanted_words(wanted, lambda day: show_day(day, form)),
        *(_line_words(line, form) for line in lines),
    ]
    state = ORDER_NOW if lacking else FINE
    return _row(source, held, state, quote, lines, sentences, f"by the pack: {unopened} unopened")


def row_untracked(source: Source, held: Held) -> StockRow:
    """Return the row of a supply that is not tracked, for whoever asks for it."""
    return _row(source, held, FINE, None, [], ["not tracked: it is never on the list"], "not tracked")


def _quote(source: Source, held: Held) -> Quote | None:
    """Return the cheapest way to buy a pack."""
    listed = source.offers_of(held.supply)
    return choose_offer(1, listed, listed[0].currency) if listed else None


def _line_words(line: OrderLine, form: str) -> str:
    packs = "1 pack" if line.open_packs == 1 else f"{line.open_packs} packs"
    promised = f", promised for {show_day(line.promised_on, form)}" if line.promised_on else ""
    return f'order "{line.order}" of {show_day(line.ordered_on, form)}: {packs}{promised}'


def _row(
    source: Source,
    held: Held,
    state: str,
    bought: Quote | None,
    lines: Sequence[OrderLine],
    sentences: Sequence[str],
    in_short: str,
) -> StockRow:
    packs = 0 if state == FINE else 1 if bought is None else bought.packs
    return StockRow(
        supply=held.supply,
        state=state,
        order_by=None,
        needed_by=None,
        packs=packs,
        steps=0 if bought is None else bought.steps,
        supplier=None if bought is None else source.suppliers[bought.offer.supplier].name,
        cost=None if bought is None else Money(bought.total_minor, bought.offer.currency),
        shipping=None if bought is None else Money(bought.offer.shipping_minor, bought.offer.currency),
        chance_short=None,
        on_hand=max(0, held.usable_on(source.today)),
        on_order=sum(line.open_packs * (line.pack_steps or 0) for line in lines),
        planned=None,
        unplanned=None,
        held_up=(),
        wanted=tuple(f"{part.tag}: {part.part}" for part in source.wanted_of(held.supply)),
        rests_on=tuple(sentences),
        in_short=in_short,
        ask="" if bought is not None or state == FINE else "an offer: who sells it, in what packs",
        plan=None,
    )

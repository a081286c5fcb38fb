"""The sheets of an exported workbook, as text: "= sheet | what it tells", then its columns from left to right.

Of a column: its name in the CSV form, kind of cell, widest it may be in characters, heading where it is not the name,
what may be chosen ("words ..." of the program, which are the only ones; "names ..." of the book), and what it means.
A line that begins with blanks goes on with the one before it.
"""

TABLE = """
= units | The things themselves, one a row. Owner, location and standing are as of the day of this workbook; a
    change counts from the day it is brought in.
tag | as typed | 12 | | | the name on its label; no other unit ever gets it
model | as typed | 20 | | names models | its model
maker | as typed | 20 | | | the maker of the model, where several have one of this name
serial | as typed | 22 | | | the serial number; an odd or repeated one is marked, never refused
serial_state | as typed | 18 | | words serial states | known when there is a serial
owner | as typed | 26 | | | whose it is
location | as typed | 24 | | names locations | where it is
standing | as typed | 16 | | words standings | how it stands; arrived may make an arrival check due
on loan | shown | 12 | on loan until | | when it is due back from a loan; only shown here
acquired_on | day | 12 | | | when it came
acquired_from | as typed | 26 | | | who it came from
price | money | 12 | | | what was paid
currency | as typed | 9 | | | of the price
condition | text | 40 | | | in what condition it is
marks | text | 40 | | | marks and labels it is known by
jumpers | text | 40 | | | how its jumpers are set
rom | as typed | 18 | ROM | | the version of its ROM
modifications | text | 40 | | | what was changed in it
accessories | text | 40 | | | what belongs to it
note | text | 40 | | | anything else

= models | What kinds of thing there are. A unit needs its model.
model | as typed | 20 | | | its name; without a maker it must be the only one of this name
maker | as typed | 20 | | | who made it
kind | as typed | 24 | | | drive, mechanism, supply unit, computer, test gear, medium or another word; drive
    when empty
drive_type | as typed | 18 | | words drive types | how the spindle is driven
nominal_speed | number | 11 | nominal speed (r/min) | | r/min; several where it has several settings
speed_adjustable | yes-no | 11 | | | whether the speed can be set
media | as typed | 18 | | | the sizes of media it takes
supply_inside | yes-no | 11 | | | whether a supply is built in
replacement_value | money | 12 | | | what another one would cost
currency | as typed | 9 | | | of that value
note | text | 40 | | | anything else

= locations | Where things stand. A location may lie inside another.
location | as typed | 24 | | | its name
inside | as typed | 24 | | names locations | the location it is in
note | text | 40 | | | anything else

= entries | Owner, location and standing through time, where more is known than how it is today.
tag | as typed | 12 | | | the unit
what | as typed | 18 | | words entries | which of the three the row tells
value | as typed | 26 | | | the person, the location or the standing (a word of sheet units)
from_date | day | 12 | | | since when
note | text | 40 | | | why, or anything else

= pairings | Which supply unit feeds which drive.
drive | as typed | 18 | | | the drive
supply_unit | as typed | 18 | | | the supply unit
from_date | day | 12 | | | since when
to_date | day | 12 | | | until when; empty while it lasts

= parts | Parts that were fitted, from a lot or from another unit.
tag | as typed | 12 | | | the unit
part | as typed | 18 | | | belt, mechanism, board, head, motor ...
fitted_on | day | 12 | | | when
removed_on | day | 12 | | | when it was taken out again
supply | as typed | 34 | | names supplies | the supply it was
lot | as typed | 24 | | | the lot it came from
donor | as typed | 18 | | | the unit it came from
service | as typed | 24 | | | in which service

= services | Every time a unit was opened.
service | as typed | 24 | | | a name that readings, uses, parts and faults can point to
tag | as typed | 12 | | | the unit
opened_on | day | 12 | | | when it was opened
closed_on | day | 12 | | | when it was closed; empty while it is open
procedures | text | 40 | | | what was done
reason | text | 40 | | | why it was opened
outcome | as typed | 18 | | | how the unit was left: ready, donor ...
minutes | whole | 11 | time taken (min) | | how long it took
by | as typed | 26 | | | who did it
findings | text | 40 | | | what was seen

= readings | What was read, one reading a row.
tag | as typed | 12 | | | the unit
measurement | as typed | 32 | | names measurements | what was measured
point | as typed | 18 | | | where: +5 V, head 0 track 16 ...
taken_on | day | 12 | | | when
instrument | as typed | 24 | | names instruments | with what
value | number | 16 | | | what was read, as it was read
in | shown | 9 | | | what the value is measured in; only shown here
stage | as typed | 11 | | words stages | before the work, after it, or outside a service
service | as typed | 24 | | | its service
measured_in | as typed | 13 | | | empty for the measurement's own unit; ms (index period) or bars/min (strobe)
    for a speed
disk | as typed | 24 | | | the reference disk
supply_unit | as typed | 18 | | | what the drive was fed from
warm_up_minutes | number | 11 | warm-up (min) | | how long it had been switched on
load | as typed | 24 | | | the load on a supply unit, as 1 A
set_aside | text | 40 | | | why it does not count; empty when it does
note | text | 40 | | | anything else

= faults | What was wrong, and what helped.
tag | as typed | 12 | | | the unit
noticed_on | day | 12 | | | when it was noticed
symptom | text | 40 | | | what is seen, heard or read
cause | text | 40 | | | what it came from, or: no fault found
cure | text | 40 | | | what helped
closed_on | day | 12 | | | when it was closed; empty while it is open
service | as typed | 24 | | | in which service
by | as typed | 26 | | | who noticed it

= hours | What an hour meter showed.
tag | as typed | 12 | | | the unit
read_on | day | 12 | | | when
hours | number | 11 | hours (h) | | what it showed
reset | yes-no | 11 | | | whether it began anew with this reading

= uses | What left the drawer.
supply | as typed | 34 | | names supplies | the supply
lot | as typed | 24 | | | from which lot; empty takes the one that passes its date first
quantity | number | 11 | | | how much, in the supply's unit; above 0
in | shown | 9 | | | what the quantity is measured in; only shown here
used_on | day | 12 | | | when
service | as typed | 24 | | | in which service
tag | as typed | 12 | | | for which unit
procedure | as typed | 34 | | names procedures | for which procedure
basis | as typed | 14 | | words bases | how it is known: by the sheet, measured, or from a count
planned | yes-no | 11 | | | whether planned work took it
what | as typed | 18 | | words uses | use when empty; discard needs a reason, return needs the lot; short is
    what was needed and not there
reason | text | 40 | | | why

= supplies | What is used up or fitted.
supply | as typed | 34 | | | its name
kind | as typed | 24 | | | belt, lubricant, solvent, swab, cloth, spare ...
measured_in | as typed | 13 | | | how it is counted; it stays once the supply is used
smallest_step | number | 11 | | | the smallest amount that is written down, in that unit: 1 piece, else 0.001
    when empty
tracked | as typed | 18 | | words tracked | by count; by the pack, bought when the last one is opened; or not at all
density | number | 11 | density (g/ml) | | g/ml, so that mass and volume convert
polymer | as typed | 18 | | | of a rubber: NBR, CR, EPDM ... ; its shelf life follows
thickener | as typed | 18 | | | of a grease: lithium, PFPE ...; its shelf life follows
strength | as typed | 18 | | | as 99 %
size | as typed | 24 | | | as 64 x 4.5 x 0.6 mm
fits | text | 40 | | | the models it fits; empty for all
shelf_life_months | whole | 11 | shelf life (months) | | how long it keeps sealed
open_life_months | whole | 11 | open life (months) | | how long it keeps once open
wanted_chance | number | 11 | wanted chance (0 to 1) | | the chance of not running out that is wanted
note | text | 40 | | | anything else

= lots | What came in, one delivery of one supply a row.
supply | as typed | 34 | | names supplies | the supply
lot | as typed | 24 | | | its name: the number on the label, or any other
received_on | day | 12 | | | when it came
quantity | number | 11 | | | how much came, in the supply's unit
in | shown | 9 | | | what the quantity is measured in; only shown here
price | money | 12 | | | of the whole lot
currency | as typed | 9 | | | of the price
supplier | as typed | 26 | | names suppliers | who sent it
made | as typed | 18 | | | when it was made: a quarter as on rubber, or a day
expires_on | day | 12 | | | as printed on it
opened_on | day | 12 | | | when it was opened

= counts | What was really there on a day; without a lot, of the whole supply.
supply | as typed | 34 | | names supplies | the supply
lot | as typed | 24 | | | which lot
counted_on | day | 12 | | | when
quantity | number | 11 | | | how much was there, in the supply's unit
in | shown | 9 | | | what the quantity is measured in; only shown here

= suppliers | Where things are bought.
supplier | as typed | 26 | | | the name
lead_days | whole | 11 | lead time (days) | | days from order to arrival
shipping | money | 12 | | | what sending one order costs
currency | as typed | 9 | | | of the shipping
note | text | 40 | | | anything else

= offers | What a supplier asks for one pack.
supplier | as typed | 26 | | names suppliers | the supplier
supply | as typed | 34 | | names supplies | the supply
pack_quantity | number | 11 | | | what one pack holds, in the supply's unit; above 0
in | shown | 9 | | | what the pack is measured in; only shown here
price | money | 12 | | | of one pack
currency | as typed | 9 | | | of the price
from_packs | whole | 11 | from (packs) | | the price holds from so many packs on; 1 when empty
minimum_packs | whole | 11 | minimum (packs) | | the least order
lead_days | whole | 11 | lead time (days) | | where it differs from the supplier's

= orders | What was ordered: the rows of one order have one name, supplier and day.
order | as typed | 18 | | | its name
supplier | as typed | 26 | | names suppliers | whom it went to
ordered_on | day | 12 | | | when
supply | as typed | 34 | | names supplies | what
packs | whole | 11 | ordered (packs) | | how many packs
arrived_on | day | 12 | | | when it came; what came stands in sheet lots
arrived_packs | whole | 11 | arrived (packs) | | how many packs came; all when empty
cancelled_on | day | 12 | | | when the rest was cancelled

= valuations | What a unit was held to be worth.
tag | as typed | 12 | | | the unit
valued_on | day | 12 | | | when
amount | money | 12 | | | how much
currency | as typed | 9 | | | of the amount
basis | as typed | 14 | | | replacement, market, agreed ...
by | as typed | 26 | | | who says so
evidence | text | 40 | | | on what grounds

= loans | What was lent or borrowed: the rows of one loan have one name, and each is a unit on it.
loan | as typed | 20 | | | its name
direction | as typed | 18 | | words directions | out when empty
tag | as typed | 12 | | | the unit
person | as typed | 26 | | | with whom
out_on | day | 12 | | | when it went
due_on | day | 12 | | | when it is due back
back_on | day | 12 | | | when it came back; empty while it is away
purpose | text | 40 | | | what for
condition_out | text | 40 | | | how it went
condition_back | text | 40 | | | how it came back
deposit | money | 12 | | | what was left for it
currency | as typed | 9 | | | of the deposit

= policies | Insurance policies.
policy | as typed | 18 | | | its number or name
from_date | day | 12 | | | since when
to_date | day | 12 | | | until when
insurer | as typed | 18 | | | with whom
sum_insured | money | 12 | | | up to how much
currency | as typed | 9 | | | of the sum
note | text | 40 | | | anything else

= people | Everybody the book speaks of: personal data, so mind who gets this workbook.
person | as typed | 26 | | | the name
role | as typed | 18 | | words roles | outside when empty
email | as typed | 28 | | | e-mail address
phone | as typed | 18 | | | telephone number
address | text | 40 | | | postal address
note | text | 40 | | | anything else

= procedures | What is done to a unit, and when it is due.
procedure | as typed | 34 | | | its name
revision | whole | 11 | | | raised with every change; 1 when empty
applies_to | text | 40 | | | kinds, drive types or models; empty for every unit
every_months | whole | 11 | every (months) | | at most so many months apart
every_hours | number | 11 | every (running hours) | | at most so many running hours apart, where a meter is read
triggers | text | 40 | | | after arrival, after loan, after transport, unused 24 months, symptom WORDS
minutes | whole | 11 | time needed (min) | | how long it takes
resets | text | 40 | | | which measurements begin anew: their level, or their level and slope
retests | text | 40 | | | what must be measured as left before the unit is ready
cautions | text | 60 | | | one a line; shown before the work
steps | text | 70 | | | one a line
source | text | 36 | | | who says so

= amounts | What one task of a procedure takes.
procedure | as typed | 34 | | names procedures | the procedure
supply | as typed | 34 | | names supplies | the supply
quantity | number | 11 | | | how much
in | shown | 9 | | | what the quantity is measured in; only shown here
measured_in | as typed | 13 | | | another unit than the supply's own
chance | number | 11 | chance (0 to 1) | | how often it is taken at all; always when empty

= measurements | What can be measured.
measurement | as typed | 32 | | | its name
measured_in | as typed | 13 | | | the unit of its readings, or graded for pass, marginal and fail; it stays once
    there are readings
ratio | yes-no | 11 | | | whether twice the figure is twice as much (as speed or voltage, not as a position)
points | text | 40 | | | the places where it is measured, as rails or heads
source | text | 36 | | | where it is described
note | text | 40 | | | anything else

= instruments | What readings are taken with: one row for each measurement it is used for.
instrument | as typed | 24 | | | its name
measurement | as typed | 32 | | names measurements | what it measures
reference | yes-no | 11 | | | whether the others are compared with it
from_date | day | 12 | | | since when this row holds
resolution | number | 11 | | | its smallest step, in the measurement's unit
uncertainty | number | 11 | | | its own standard uncertainty, in the measurement's unit
in | shown | 9 | | | what resolution and uncertainty are measured in; only shown here
kind | as typed | 24 | | | meter, counter, strobe, program, disk ...
tag | as typed | 12 | | | the unit it is, where it is one
host | as typed | 18 | | | the computer a program runs on
version | as typed | 18 | | | the version of a program
note | text | 40 | | | anything else

= limits | Between what a reading must lie: of one unit, one model or one class; the nearest counts.
tag | as typed | 12 | | | of this unit
model | as typed | 20 | | names models | of all units of this model
class | as typed | 26 | | | of a class: a nominal speed (300 r/min), a drive type, a kind, drive supply, TTL
maker | as typed | 20 | | | the maker of the model
measurement | as typed | 32 | | names measurements | of what
point | as typed | 18 | | | at which point; empty for all
nominal | number | 11 | | | the value that is aimed at
lower | number | 11 | | | the least
upper | number | 11 | | | the most
in | shown | 9 | | | what nominal, lower and upper are measured in; only shown here
source | text | 36 | | | who says so: document, page
from_date | day | 12 | | | since when
"""

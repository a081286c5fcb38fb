"""The pages of ``spindlebook help``: one for each of the five things people come to do."""

from __future__ import annotations

from typing import NamedTuple


class Page(NamedTuple):
    """A page of help: what it is about in one line, and its text as it is printed."""

    about: str
    text: str


PAGES = {
    "list": Page(
        "Bring in the list you have kept so far",
        """
Start the book once; it asks for your currency and mains voltage:
  spindlebook start
Then name your workbook. Nothing is written before you say yes:
  spindlebook import drives.xlsx
It shows what each column is taken for, asks where it is not sure, and names
every cell it doubts with sheet, row and column. To keep the answers, so that
the next import of that sheet asks nothing:
  spindlebook import drives.xlsx --map drives.map.json
No list yet? An empty workbook with headings and drop-downs to fill in:
  spindlebook import --template my-drives.xlsx
When was everything last cleaned? Tell it roughly, and the due list has
somewhere to start:
  spindlebook import drives.xlsx --last-done 2024
Something came in wrong? Take it back, put the sheet right, import it again:
  spindlebook undo
""",
    ),
    "bench": Page(
        "Spend a day at the bench",
        """
What is waiting, the worst first:
  spindlebook due
A drive has come; note how it came before you open it:
  spindlebook arrival D9 --model "VK 410" --damage "bezel cracked"
Serve one; you are asked block by block, and Enter takes what is offered:
  spindlebook service record D3
The phone rang, the battery died? Go on where you were:
  spindlebook service resume
One measurement over the whole shelf, one line a unit:
  spindlebook round --of "spindle speed" --instrument "bench counter"
No screen at the bench? On paper, with boxes, typed back in the same order:
  spindlebook report bench-sheet D3
  spindlebook report round-sheet --of "spindle speed"
Something is wrong with it, and what cured the like before:
  spindlebook fault add D3 "grinds when it seeks"
  spindlebook fault find grinds
Mains, stored charge, solvent and turning parts can hurt. The cautions stand
before each step; local rules and qualified people come first.
""",
    ),
    "when": Page(
        "Know what is due, and why",
        """
The units that are due within 30 days:
  spindlebook due
Everything about one of them, with the reason each procedure is due:
  spindlebook unit show D3
What drifts, how fast, and what will leave its limits; then one unit in full:
  spindlebook drift --of "spindle speed"
  spindlebook drift D3
  spindlebook chart D3 --of "spindle speed"
Intervals and what brings a procedure due stand with the procedure:
  spindlebook procedure show "clean head"
  spindlebook procedure edit "clean head" --every-months 9 --reason dusty
Limits come from the unit, else its model, else its class; the nearest counts:
  spindlebook limit list
The disks and instruments you measure with have a life too, and some read off:
  spindlebook medium list
  spindlebook instrument list
""",
    ),
    "drawer": Page(
        "Keep the drawer filled",
        """
What is there, by lot:
  spindlebook stock
What will run out, what to buy and by when; a page to send to each supplier:
  spindlebook reorder
  spindlebook reorder --order-sheet orders
Why: the whole story of one supply, and a picture of what will be there:
  spindlebook reorder "cotton swab" --plot swabs.png
Count it now and then; the book believes your count:
  spindlebook supply count "cotton swab" 80
A part you need for one unit goes on the same shopping list:
  spindlebook wanted add D4 belt --supply "belt 5 mm"
What you ordered, and what is still to come of it:
  spindlebook order place "Ada's Belts" "belt 5 mm=2"
  spindlebook order list
What came otherwise; units that waited for it are on the due list again:
  spindlebook supply receive "belt 5 mm" 3
""",
    ),
    "out": Page(
        "Lend, value, and answer for what you have",
        """
Who has what, and what is late:
  spindlebook loan list
Out to somebody, and back with what they say was wrong:
  spindlebook loan out D5 --to "Ada Field" --due 2026-05-01
  spindlebook report loan-slip D5
  spindlebook loan back D5 --complaint "reads slowly when warm"
Kept for somebody until then; what is late, with a text to send:
  spindlebook loan reserve D5 --to Ada --from 2026-05-10 --until 2026-05-12
  spindlebook loan overdue
What it is worth, by whose word; what it has cost so far:
  spindlebook value add D5 120 --basis market --evidence "two sold last month"
  spindlebook unit show D5
What was done to the book, by which act; and is it whole:
  spindlebook history
  spindlebook verify
A copy that is checked, to keep elsewhere:
  spindlebook backup take book.keep
""",
    ),
}

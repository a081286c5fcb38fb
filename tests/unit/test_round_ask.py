"""The dialogue of a round, played without a terminal."""

from __future__ import annotations

from collections.abc import Iterator

from collection.cli.round_ask import Hands, Question, ending, lay_beside, walk
from collection.errors import Refused

QUESTIONS = [Question(tag, f"{tag}  shelf") for tag in ("D1", "D2", "D10")]


class _Played:
    """Types the lines of a person; ^C stands for an interrupt. kept: what was made durable, in order."""

    def __init__(self, *typed: str) -> None:
        self.lines: Iterator[str] = iter(typed)
        self.asked: list[str] = []
        self.said: list[str] = []
        self.kept: list[tuple[str, str]] = []

    def hands(self) -> Hands:
        """Return what the dialogue does through others."""
        return Hands(self._ask, self._look, lambda tag, text: self.kept.append((tag, text)), self.said.append)

    def _ask(self, prompt: str) -> str:
        self.asked.append(prompt)
        line = next(self.lines)
        if line == "^C":
            raise KeyboardInterrupt
        return line

    def _look(self, _tag: str, typed: str) -> str:
        if typed == "x":
            raise Refused('"x" is not a number.', 'Type it as "12.5".')
        return "high" if typed == "400" else ""


def test_enter_passes_a_unit_over_and_what_is_seen_is_said() -> None:
    """A value outside its limit is told at once, while the unit is still on the bench."""
    play, answers = _Played("400", "", "300"), dict[str, str]()

    assert walk(QUESTIONS, answers, play.hands())
    assert {"D1": "400", "D2": "", "D10": "300"} == answers
    assert ["  high"] == play.said


def test_a_refused_answer_is_asked_for_again_and_not_kept() -> None:
    """Nothing that the book would refuse is carried to the end."""
    play, answers = _Played("x", "300", "", ""), dict[str, str]()

    assert walk(QUESTIONS, answers, play.hands())
    assert [("D1", "300"), ("D2", ""), ("D10", "")] == play.kept
    assert 'is not a number. Type it as "12.5".' in play.said[0]


def test_back_corrects_the_one_before_and_enter_there_lets_it_stand() -> None:
    """The former answer is shown; going back twice reaches the first, and no further."""
    play, answers = _Played("300", "301", "back", "back", "back", "", "302"), dict[str, str]()

    assert walk(QUESTIONS, answers, play.hands())
    assert {"D1": "300", "D2": "301", "D10": "302"} == answers
    assert "D1  shelf [300]: " in play.asked
    assert "  This is the first one." in play.said


def test_skip_takes_an_answer_away_again() -> None:
    """A value typed for the wrong unit can be taken back without another in its place."""
    play, answers = _Played("300", "back", "skip", "", ""), dict[str, str]()

    assert walk(QUESTIONS, answers, play.hands())
    assert "" == answers["D1"]


def test_breaking_off_loses_nothing_and_the_next_walk_goes_on() -> None:
    """Ctrl-C ends the walk after the last kept line; answered units are not asked for again."""
    play, answers = _Played("300", "^C"), dict[str, str]()
    assert not walk(QUESTIONS, answers, play.hands())
    assert [("D1", "300")] == play.kept

    again = _Played("301", "302")
    assert walk(QUESTIONS, answers, again.hands())
    assert ["D2  shelf: ", "D10  shelf: "] == again.asked


def test_the_end_writes_corrects_or_drops() -> None:
    """Enter writes; back asks for the last unit once more; drop throws away; nothing told needs no question."""
    answers = {"D1": "300", "D2": "", "D10": "302"}
    play = _Played("back", "303", "")
    assert ending(QUESTIONS, answers, play.hands()) is True
    assert "303" == answers["D10"]
    assert ending(QUESTIONS, answers, _Played("drop").hands()) is None
    assert ending(QUESTIONS, answers, _Played("^C").hands()) is False
    assert ending(QUESTIONS, {"D1": ""}, _Played().hands()) is None


def test_columns_stand_below_each_other_and_empty_ones_are_left_out() -> None:
    """A screen of twelve units is read down, not across."""
    first, second = lay_beside([("D1", "shelf A", "", "last 300"), ("D10", "bench", "", "")])

    assert ("D1   shelf A  last 300", "D10  bench") == (first, second.rstrip())

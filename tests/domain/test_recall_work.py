"""What is left of a recall notice: in the order in which it matters, and nothing when it may be closed."""

from datetime import date

from inventory.domain.alerts import Action, AlertKind, OpenNotice, recalls
from inventory.domain.recall_work import Outstanding, few

DAY = date(2026, 3, 2)
ALL = Outstanding(("lot A", "lot B"), ("lot C",), ("C-1",), DAY)


def test_first_nothing_is_in_reach_then_people_are_told_then_the_sender_then_it_leaves_the_house() -> None:
    assert ALL.left == (
        "Find and set aside: lot A; lot B.",
        "Tell, or note why not: case C-1.",
        "Answer the notice by 2026-03-02, and note the proof.",
        "Return or destroy, with proof: lot C.",
    )
    assert ALL.next_step == ALL.left[0]
    assert ALL.counts == "2 to find, 1 set aside, 1 case to tell, answer by 2026-03-02"


def test_a_notice_with_nothing_left_says_that_it_can_be_closed() -> None:
    assert (Outstanding().left, Outstanding().next_step) == ((), "Close it: everything is settled.")
    assert Outstanding().counts == "everything is settled"


def test_of_many_things_a_few_are_named_and_the_rest_are_counted() -> None:
    assert few(("a", "b", "c")) == "a; b; c"
    assert few(("a", "b", "c", "d", "e")) == "a; b; c; and 2 more"


def test_a_notice_is_the_first_line_of_the_week_with_what_to_do_next() -> None:
    (line,) = recalls([OpenNotice("N-1", DAY, "class II", False, ALL)])
    assert (line.kind, line.action, line.subject, line.where) == (
        AlertKind.NOTICE_OPEN, Action.OPEN_NOTICE, "Recall N-1", "class II",
    )  # fmt: skip
    assert (line.what, line.todo, line.notice, line.due) == (ALL.counts, ALL.next_step, "N-1", DAY)
    assert min(AlertKind) is AlertKind.NOTICE_OPEN


def test_a_closed_notice_of_which_stock_came_back_says_so() -> None:
    (line,) = recalls([OpenNotice("N-1", DAY, "class II", True, Outstanding(("lot A",)))])
    assert line.what == "closed, but 1 to find"

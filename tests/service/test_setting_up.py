"""A practice starts from a few answers and the seed data, and can change what it is made of."""

from collections.abc import Iterator
from datetime import UTC, date, datetime
from typing import Any

import pytest
from sqlmodel import Session, col, select

from inventory.domain.catalogue import TrayLine
from inventory.domain.vocabulary import Arch, EstimateSource, ItemKind, PlaceRole, Role, Viscosity
from inventory.errors import AlreadyDone, BadInput, NotAllowed, NotFound
from inventory.service import setting_up
from inventory.service.clock import Clock
from inventory.service.practice import DEFAULTS, Practice
from inventory.service.setting_up import PersonDraft, PlaceDraft, SetUp
from inventory.store.engine import Store
from inventory.store.tables import CaseKind, Change, Estimate, Need, SizePrior, Step

NOW = datetime(2027, 3, 10, 9, tzinfo=UTC)


@pytest.fixture
def practice(store: Store) -> Practice:
    return Practice(store, Clock(lambda: NOW))


@pytest.fixture
def session(practice: Practice) -> Iterator[Session]:
    setting_up.set_up(practice, answers(), by="AB")
    with practice.reading() as desk:
        yield desk.session


def answers(**changes: Any) -> SetUp:
    return SetUp(people=(PersonDraft("ab", Role.MANAGER), PersonDraft("CD")), **changes)


def steps(session: Session, code: str) -> set[tuple[str, Arch | None]]:
    query = select(Step).join(CaseKind).where(CaseKind.code == code)
    return {(step.code, step.arch) for step in session.exec(query)}


def needs(session: Session, code: str, step: str) -> list[Need]:
    """What a step asks for in any case; accessories and intra-oral tips wait until the practice names one."""
    query = select(Need).join(Step).join(CaseKind).where(CaseKind.code == code, Step.code == step, ~col(Need.optional))
    return list(session.exec(query))


def test_an_empty_store_is_not_set_up(practice: Practice) -> None:
    assert not setting_up.is_set_up(practice)
    assert not setting_up.practice_state(practice).is_set_up


def test_a_practice_starts_with_its_people_places_and_tray_line(practice: Practice) -> None:
    state = setting_up.set_up(practice, answers(settings={"time_zone": "Europe/Vienna"}), by="ab")
    assert state.is_set_up
    assert [(person.initials, person.role) for person in state.people] == [("AB", Role.MANAGER), ("CD", Role.ASSISTANT)]
    assert [place.name for place in state.places] == [
        "store room", "operatory 1", "operatory 2", "reprocessing", "laboratory", "set aside",
    ]  # fmt: skip
    assert state.tray_lines == (TrayLine("Line 1", ("S", "M", "L", "XL"), ("S", "M", "L", "XL")),)
    assert state.settings["time_zone"] == "Europe/Vienna"


def test_stock_tray_finals_take_a_tray_its_load_and_a_wash_per_arch_and_one_record(session: Session) -> None:
    # common practice, no source
    assert steps(session, "final_stock_tray") == {
        *((code, arch) for code in ("tray", "load", "wash") for arch in Arch), ("jaw_relation", None), ("bag", None),
    }  # fmt: skip
    assert {need.viscosity for need in needs(session, "final_stock_tray", "load")} == {Viscosity.HEAVY}
    assert {need.viscosity for need in needs(session, "final_stock_tray", "wash")} == {Viscosity.LIGHT}
    assert {need.tray_line for need in needs(session, "final_stock_tray", "tray")} == {"Line 1"}
    bite = needs(session, "final_stock_tray", "jaw_relation")
    assert [need.kind for need in bite] == [ItemKind.BITE]


def test_custom_tray_finals_take_border_moulding_and_a_wash_but_no_stock_tray(session: Session) -> None:
    # common practice, no source
    assert {code for code, _ in steps(session, "final_custom_tray")} == {"border", "wash", "bag"}


def test_a_reline_takes_a_wash_and_no_tray(session: Session) -> None:
    # common practice, no source
    assert {code for code, _ in steps(session, "reline")} == {"wash", "bag"}


def test_preliminary_impressions_take_powder_in_a_stock_tray(session: Session) -> None:
    # common practice, no source: often irreversible hydrocolloid, a powder in grams
    assert {code for code, _ in steps(session, "preliminary")} == {"tray", "preliminary", "bag"}
    assert {(need.kind, need.viscosity) for need in needs(session, "preliminary", "preliminary")} == {
        (ItemKind.IMPRESSION, None)
    }


def test_every_need_starts_from_a_default_estimate_that_says_where_it_comes_from(session: Session) -> None:
    estimates = {row.need_id: row for row in session.exec(select(Estimate))}
    assert set(estimates) == set(session.exec(select(Need.id)))
    assert all(row.source is EstimateSource.DEFAULT and row.mean_qty > 0 and row.why for row in estimates.values())


def test_a_run_of_four_sizes_starts_from_the_default_shares(session: Session) -> None:
    # own judgement, editable default
    shares = {row.tray_size: row.weight_ppm for row in session.exec(select(SizePrior)) if row.arch is Arch.MAXILLARY}
    assert shares == {"S": 200_000, "M": 500_000, "L": 250_000, "XL": 50_000}


def test_a_run_of_another_length_starts_from_equal_shares(practice: Practice) -> None:
    lines = (TrayLine("Line 3", ("1", "2", "3"), ()),)
    setting_up.set_up(practice, answers(tray_lines=lines), by="AB")
    with practice.reading() as desk:
        shares = [row.weight_ppm for row in desk.session.exec(select(SizePrior).order_by("tray_size"))]
    assert shares == [333_334, 333_333, 333_333]


def test_techniques_may_use_trays_of_different_lines(practice: Practice) -> None:
    lines = (TrayLine("Line 1", ("S", "M"), ("S", "M")), TrayLine("Line 2", ("1",), ("1",)))
    setting_up.set_up(practice, answers(tray_lines=lines, preliminary_line="Line 2"), by="AB")
    with practice.reading() as desk:
        assert {need.tray_line for need in needs(desk.session, "preliminary", "tray")} == {"Line 2"}
        assert {need.tray_line for need in needs(desk.session, "final_stock_tray", "tray")} == {"Line 1"}


def test_a_practice_is_set_up_once(practice: Practice) -> None:
    setting_up.set_up(practice, answers(), by="AB")
    with pytest.raises(AlreadyDone):
        setting_up.set_up(practice, answers(), by="AB")


@pytest.mark.parametrize(
    ("changes", "error"),
    [
        ({"places": (PlaceDraft("operatory 1", PlaceRole.CHAIR),)}, NotAllowed),
        ({"tray_lines": (TrayLine("Line 1", ("S", "S"), ()),)}, BadInput),
        ({"tray_lines": (TrayLine("Line 1", (), ()),)}, BadInput),
        ({"final_line": "Line 9"}, NotFound),
        ({"settings": {"time_zone": "Atlantis"}}, BadInput),
    ],
)
def test_a_wrong_answer_leaves_the_store_empty(
    practice: Practice, changes: dict[str, Any], error: type[BadInput]
) -> None:
    with pytest.raises(error):
        setting_up.set_up(practice, answers(**changes), by="AB")
    assert not setting_up.is_set_up(practice)


def test_who_sets_up_must_work_there(practice: Practice) -> None:
    with pytest.raises(NotFound):
        setting_up.set_up(practice, answers(), by="ZZ")
    assert not setting_up.is_set_up(practice)


def test_a_change_of_role_is_logged_with_who_and_when(practice: Practice) -> None:
    setting_up.set_up(practice, answers(), by="AB")
    setting_up.add_person(practice, PersonDraft("cd", Role.DENTIST), by="AB")
    with practice.reading() as desk:
        change = desk.session.exec(select(Change).where(Change.subject_id == "CD", Change.old == "assistant")).one()
        assert (change.new, change.at, change.person_id) == ("dentist", NOW, desk.person("AB"))


def test_somebody_must_be_left_who_works_there(practice: Practice) -> None:
    setting_up.set_up(practice, SetUp(people=(PersonDraft("AB"),)), by="AB")
    with pytest.raises(NotAllowed):
        setting_up.add_person(practice, PersonDraft("AB", active=False), by="AB")
    assert setting_up.practice_state(practice).people[0].active


def test_the_last_store_room_stays(practice: Practice) -> None:
    setting_up.set_up(practice, answers(), by="AB")
    with pytest.raises(NotAllowed):
        setting_up.add_place(practice, PlaceDraft("Store room", PlaceRole.CHAIR), by="AB")


def test_a_further_place_is_walked_last(practice: Practice) -> None:
    setting_up.set_up(practice, answers(), by="AB")
    setting_up.add_place(practice, PlaceDraft("operatory 3", PlaceRole.CHAIR), by="AB")
    assert setting_up.practice_state(practice).places[-1].name == "operatory 3"


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("time_zone", "Europe"), ("time_zone", "/etc/passwd"), ("currency", "E1"), ("day_first", "yes"),
        ("review_weekday", 0), ("review_days", True), ("service_ppm", {"vital": 1}), ("colour", "red"),
        ("practice_code", "a b"), ("expected_weekly", 3), ("expected_weekly", {"reline": -1}),
        ("expected_weekly", {"reline": float("nan")}), ("order_rule", "by feeling"), ("min_max", {"lead_months": 1}),
        ("min_max", {**DEFAULTS["min_max"], "interval_months": None}), ("holding_ppm", -1),
        ("abc_percent", {"A": 96, "B": 95}), ("count_weeks", {"I": 4}), ("count_weeks", {"I": 0, "II": 1, "III": 1}),
        ("practice_changed_on", "31.3.27"),
    ],
)  # fmt: skip
def test_a_setting_that_would_break_later_readings_is_refused(practice: Practice, key: str, value: object) -> None:
    setting_up.set_up(practice, answers(), by="AB")
    with pytest.raises(BadInput):
        setting_up.change_settings(practice, {key: value}, by="AB")


def test_every_setting_there_is_may_be_set_to_what_it_is(practice: Practice) -> None:
    setting_up.set_up(practice, answers(), by="AB")
    assert setting_up.change_settings(practice, DEFAULTS, by="AB") == DEFAULTS


def test_the_practices_own_date_follows_its_time_zone(practice: Practice) -> None:
    setting_up.set_up(practice, answers(), by="AB")
    setting_up.change_settings(practice, {"time_zone": "Pacific/Kiritimati"}, by="AB")  # 14 hours ahead of UTC
    late = Practice(practice.store, Clock(lambda: datetime(2027, 3, 10, 11, tzinfo=UTC)))
    with late.reading() as desk:
        assert desk.today == date(2027, 3, 11)

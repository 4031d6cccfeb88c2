"""The catalogue: checked field by field, logged, and known to every need that it serves."""

from dataclasses import replace
from datetime import date

import pytest
from sqlmodel import select

from inventory.domain.catalogue import PackPart, TrayLine, Wanted, check_digit, check_item, gtin14, serves
from inventory.domain.vocabulary import Arch, BaseUnit, Criticality, ItemKind, SettingSpeed, Viscosity, WayOfUse
from inventory.errors import BadInput, NotAllowed, NotFound
from inventory.service import catalogue, fitting
from inventory.service.practice import Practice
from inventory.store.tables import Change
from tests.service.catalogue_samples import (
    BAG,
    BY,
    HEAVY,
    LIGHT,
    MEDIUM,
    POWDER,
    SUPPLIER,
    TIP,
    TODAY,
    TRAY,
    box,
)


@pytest.fixture
def practice(newly_set_up: Practice) -> Practice:
    return newly_set_up


def changes(practice: Practice, subject: str, subject_id: object) -> dict[str, tuple[str | None, str | None]]:
    with practice.reading() as desk:
        query = select(Change).where(Change.subject == subject, Change.subject_id == str(subject_id))
        return {row.field: (row.old, row.new) for row in desk.session.exec(query)}


def articles(practice: Practice, step: str) -> set[tuple[str, ...]]:
    return {tuple(one.code for one in need.articles) for need in catalogue.needs(practice) if need.step == step}


@pytest.mark.parametrize(
    ("field", "wrong"),
    [
        ("base", replace(LIGHT, base=BaseUnit.PIECE, unit_qty=1, viscosity=None)),
        ("base", replace(LIGHT, kind=ItemKind.BITE, base=BaseUnit.CG, viscosity=None)),
        ("base", replace(TIP, base=BaseUnit.CML)),
        ("unit_qty", replace(TIP, unit_qty=12)),
        ("unit_qty", replace(LIGHT, unit_qty=0)),
        ("viscosity", replace(LIGHT, viscosity=None)),
        ("viscosity", replace(POWDER, viscosity=Viscosity.LIGHT)),
        ("viscosity", replace(TRAY, viscosity=Viscosity.LIGHT)),
        ("setting_speed", replace(TIP, setting_speed=SettingSpeed.FAST)),
        ("family", replace(TRAY, family="polyether")),
        ("tray_line", replace(TRAY, arch=None)),
        ("tray_line", replace(LIGHT, tray_size="M")),
        ("reusable", replace(LIGHT, reusable=True)),
        ("way_of_use", replace(LIGHT, way_of_use=WayOfUse.STEP)),
        ("steps", replace(LIGHT, steps=("wash",))),
        ("steps", replace(BAG, steps=())),
        ("steps", replace(BAG, way_of_use=WayOfUse.COUNT)),
        ("opened_days_source", replace(LIGHT, opened_days=90)),
        ("opened_days_source", replace(LIGHT, opened_days_source="leaflet")),
        ("opened_days", replace(LIGHT, opened_days=-1, opened_days_source="leaflet")),
        ("tip_volume_qty", replace(LIGHT, tip_volume_qty=75)),
        ("bleed_qty", replace(TIP, bleed_qty=40)),
        ("min_units", replace(LIGHT, min_units=2)),
        ("max_units", replace(LIGHT, min_units=4, max_units=2)),
        ("service_ppm", replace(LIGHT, service_ppm=1_000_000)),
        ("code", replace(LIGHT, code="light body")),
        ("name", replace(LIGHT, name="  ")),
        ("name", replace(LIGHT, name="x" * 121)),
    ],
)
def test_what_can_not_be_is_said_per_field(field: str, wrong: object) -> None:
    assert isinstance(wrong, type(LIGHT))
    assert field in {fault.field for fault in check_item(wrong)[1]}


@pytest.mark.parametrize("right", [LIGHT, HEAVY, POWDER, TIP, BAG, TRAY])
def test_ordinary_items_have_no_fault(right: object) -> None:
    assert isinstance(right, type(LIGHT))
    assert check_item(right) == (right, ())


def test_all_faults_are_said_at_once_and_nothing_is_kept(practice: Practice) -> None:
    with pytest.raises(BadInput) as refused:
        catalogue.add_item(practice, replace(LIGHT, code="a b", viscosity=None, unit_qty=0), by=BY)
    assert {line.split(":")[0] for line in refused.value.message.splitlines()} == {"code", "viscosity", "unit_qty"}
    assert catalogue.items(practice) == ()


def test_a_new_item_shows_as_it_was_given(practice: Practice) -> None:
    draft = replace(
        LIGHT, setting_speed=SettingSpeed.FAST, opened_days=90, opened_days_source="leaflet", bleed_qty=40,
        min_load_qty=600, may_split_load=True, criticality=Criticality.VITAL, service_ppm=995_000, min_units=2,
        max_units=6, pour_within_hours=168, density_mg_per_ml=1300, tare_mg=21_000,
    )  # fmt: skip
    saved = catalogue.add_item(practice, draft, by=BY)
    card = catalogue.item(practice, "light-a")
    assert card.draft == draft
    assert card.item_id == saved.row_id
    assert [line.unit for line in catalogue.items(practice, search="BODY a")] == ["50 mL cartridge"]


def test_two_items_never_share_a_code(practice: Practice) -> None:
    catalogue.add_item(practice, LIGHT, by=BY)
    with pytest.raises(BadInput, match="LIGHT-A"):
        catalogue.add_item(practice, replace(HEAVY, code="light-a"), by=BY)


def test_an_item_joins_every_need_it_serves_behind_the_others(practice: Practice) -> None:
    catalogue.add_item(practice, LIGHT, by=BY)
    catalogue.add_item(practice, replace(LIGHT, code="LIGHT-B"), by=BY)
    catalogue.add_item(practice, HEAVY, by=BY)
    catalogue.add_item(practice, POWDER, by=BY)
    wash = [need for need in catalogue.needs(practice) if need.step == "wash" and need.kind is ItemKind.IMPRESSION]
    assert {tuple(one.code for one in need.articles) for need in wash} == {("LIGHT-A", "LIGHT-B")}
    assert articles(practice, "load") == articles(practice, "border") == {("HEAVY-A",)}
    assert articles(practice, "preliminary") == {("POWDER",)}


def test_a_need_for_a_fast_set_takes_no_regular_one() -> None:
    fast, regular = (replace(LIGHT, setting_speed=speed) for speed in (SettingSpeed.FAST, SettingSpeed.REGULAR))
    any_set = Wanted("wash", ItemKind.IMPRESSION, Viscosity.LIGHT, None)
    only_fast = replace(any_set, setting_speed=SettingSpeed.FAST)
    assert serves(fast, any_set)
    assert serves(regular, any_set)
    assert serves(fast, only_fast)
    assert not serves(regular, only_fast)


def test_a_bag_counts_at_every_visit_once_the_practice_names_one(practice: Practice) -> None:
    assert all(need.optional for need in catalogue.needs(practice) if need.step == "bag")
    catalogue.add_item(practice, BAG, by=BY)
    bags = [need for need in catalogue.needs(practice) if need.step == "bag"]
    assert len(bags) == 5
    assert all([one.code for one in need.articles] == ["BAG"] and not need.optional for need in bags)
    assert catalogue.item(practice, "BAG").draft.steps == ("bag",)


def test_an_item_taken_out_leaves_the_needs_and_comes_back_last(practice: Practice) -> None:
    for draft in (HEAVY, replace(HEAVY, code="HEAVY-B")):
        catalogue.add_item(practice, draft, by=BY)
    catalogue.change_item(practice, "HEAVY-A", replace(HEAVY, active=False), by=BY, reason="no longer made")
    assert articles(practice, "load") == {("HEAVY-B",)}
    assert [line.code for line in catalogue.items(practice)] == ["HEAVY-B"]
    catalogue.change_item(practice, "HEAVY-A", HEAVY, by=BY)
    assert articles(practice, "load") == {("HEAVY-B", "HEAVY-A")}


def test_a_viscosity_read_wrongly_from_the_label_moves_the_item_to_the_right_needs(practice: Practice) -> None:
    catalogue.add_item(practice, replace(LIGHT, viscosity=Viscosity.HEAVY), by=BY)
    catalogue.change_item(practice, "LIGHT-A", LIGHT, by=BY)
    assert articles(practice, "load") == {()}
    assert ("LIGHT-A",) in articles(practice, "wash")
    assert changes(practice, "item", "LIGHT-A")["viscosity"] == ("1", "3")


def test_an_approved_substitute_of_another_viscosity_stays_when_the_item_changes(practice: Practice) -> None:
    for draft in (HEAVY, MEDIUM):
        catalogue.add_item(practice, draft, by=BY)
    load = next(need for need in catalogue.needs(practice) if need.step == "load")
    stand = catalogue.set_articles(practice, load.need_id, ["heavy-a", "MEDIUM-A"], by=BY, alike=True)
    assert {need.arch for need in stand} == set(Arch)
    catalogue.change_item(practice, "MEDIUM-A", replace(MEDIUM, name="Medium body A, new box"), by=BY)
    assert articles(practice, "load") == {("HEAVY-A", "MEDIUM-A")}
    assert articles(practice, "border") == {("HEAVY-A",)}


def test_the_order_of_substitutes_is_the_practices_and_logged(practice: Practice) -> None:
    for code in ("LIGHT-A", "LIGHT-B"):
        catalogue.add_item(practice, replace(LIGHT, code=code), by=BY)
    wash = next(need for need in catalogue.needs(practice) if need.step == "wash")
    catalogue.set_articles(practice, wash.need_id, ["LIGHT-B", "LIGHT-A"], by=BY, reason="sets faster")
    assert changes(practice, "need", wash.need_id)["articles"] == ("LIGHT-A, LIGHT-B", "LIGHT-B, LIGHT-A")


@pytest.mark.parametrize(
    ("step", "code"), [("load", "POWDER"), ("preliminary", "LIGHT-A"), ("tray", "T1-UM"), ("bag", "LIGHT-A")]
)
def test_an_article_that_can_not_serve_is_refused(stocked: Practice, step: str, code: str) -> None:
    need = next(need for need in catalogue.needs(stocked) if need.step == step)
    with pytest.raises(NotAllowed):
        catalogue.set_articles(stocked, need.need_id, [code], by=BY)


def test_a_tray_needs_a_size_that_its_line_has_and_that_no_other_item_is(practice: Practice) -> None:
    with pytest.raises(BadInput, match="known are: S, M, L, XL"):
        catalogue.add_item(practice, replace(TRAY, tray_size="XXL"), by=BY)
    catalogue.add_item(practice, TRAY, by=BY)
    with pytest.raises(BadInput, match="T1-UM"):
        catalogue.add_item(practice, replace(TRAY, code="T1-UM-2"), by=BY)


def test_a_tray_line_grows_behind_its_known_sizes(practice: Practice) -> None:
    catalogue.add_tray_line(practice, TrayLine("Line 1", ("M", "XXL"), ()), by=BY)
    line = catalogue.tray_lines(practice)[0]
    assert line == TrayLine("Line 1", ("S", "M", "L", "XL", "XXL"), ("S", "M", "L", "XL"))


def test_a_need_may_take_its_tray_from_another_line(practice: Practice) -> None:
    catalogue.add_tray_line(practice, TrayLine("Line 2", ("1",), ("1",)), by=BY)
    need = next(need for need in catalogue.needs(practice, case_kind="preliminary") if need.step == "tray")
    assert catalogue.change_need(practice, need.need_id, tray_line="Line 2", by=BY).tray_line == "Line 2"
    with pytest.raises(NotFound):
        catalogue.change_need(practice, need.need_id, tray_line="Line 9", by=BY)


def test_a_material_without_a_mixing_tip_is_warned_about_until_one_fits(practice: Practice) -> None:
    assert "LIGHT-A" in catalogue.add_item(practice, LIGHT, by=BY).warnings[0]
    assert catalogue.add_item(practice, POWDER, by=BY).warnings == ()  # stirred by hand
    putty = replace(LIGHT, code="PUTTY", viscosity=Viscosity.PUTTY)
    assert catalogue.add_item(practice, putty, by=BY).warnings == ()  # kneaded by hand
    catalogue.add_item(practice, TIP, by=BY)
    assert catalogue.set_fits(practice, "TIP-1", ["LIGHT-A"], by=BY) == ()
    assert catalogue.warnings(practice) == ()
    assert catalogue.item(practice, "LIGHT-A").fits == ("TIP-1",)
    assert catalogue.item(practice, "TIP-1").fits == ("LIGHT-A",)


def test_what_fits_is_looked_at_and_changed_from_either_side(practice: Practice) -> None:
    for draft in (LIGHT, TIP):
        catalogue.add_item(practice, draft, by=BY)
    assert not fitting.fits_of(practice, "LIGHT-A").others[0].fits
    assert fitting.turn_fit(practice, "LIGHT-A", "TIP-1", by=BY)
    assert [(one.code, one.fits) for one in fitting.fits_of(practice, "TIP-1").others] == [("LIGHT-A", True)]
    assert not fitting.turn_fit(practice, "TIP-1", "LIGHT-A", by=BY)
    assert catalogue.item(practice, "TIP-1").fits == ()
    with pytest.raises(NotFound, match="no item 'TIP-2'"):
        fitting.fits_of(practice, "TIP-2")


def test_an_adhesive_goes_only_with_its_family(practice: Practice) -> None:
    # the adhesive is specific to the material family (J Adv Prosthodont 2009, read in the source)
    adhesive = replace(BAG, code="ADH", way_of_use=WayOfUse.COUNT, steps=(), family="polyether")
    for draft in (LIGHT, adhesive):
        catalogue.add_item(practice, draft, by=BY)
    with pytest.raises(BadInput, match="polyether"):
        catalogue.set_fits(practice, "ADH", ["LIGHT-A"], by=BY)


def test_a_supply_shows_its_pack_and_further_articles(stocked: Practice) -> None:
    catalogue.save_supply(stocked, box("LIGHT-A", contents=(PackPart("tip-1", 6),), breaks=((5, 2800),)), by=BY)
    supply = catalogue.item(stocked, "LIGHT-A").supplies[0]
    assert (supply.units_per_pack, supply.contents, supply.breaks) == (2, (("TIP-1", 6),), ((5, 2800),))
    assert supply.valid_from == TODAY


def test_a_new_price_from_a_later_day_stands_beside_the_old_one(stocked: Practice) -> None:
    catalogue.save_supply(stocked, box("LIGHT-A"), by=BY)
    catalogue.save_supply(stocked, box("LIGHT-A", pack_cents=3300, valid_from=date(2027, 6, 1)), by=BY)
    prices = [(one.valid_from, one.pack_cents, one.preferred) for one in catalogue.supplies(stocked)]
    assert prices == [(date(2027, 6, 1), 3300, True), (TODAY, 3000, True)]


def test_a_price_corrected_on_its_day_is_logged(stocked: Practice) -> None:
    saved = catalogue.save_supply(stocked, box("LIGHT-A"), by=BY)
    catalogue.save_supply(stocked, box("LIGHT-A", pack_cents=2900), by=BY, reason="typed wrongly")
    assert changes(stocked, "supply", saved.row_id)["pack_cents"] == ("3000", "2900")


def test_one_way_of_buying_is_preferred(stocked: Practice) -> None:
    catalogue.add_supplier(stocked, replace(SUPPLIER, name="Supplier South"), by=BY)
    catalogue.save_supply(stocked, box("LIGHT-A"), by=BY)
    catalogue.save_supply(stocked, box("LIGHT-A", supplier="supplier south", units_per_pack=8), by=BY)
    assert [(one.supplier, one.preferred) for one in catalogue.supplies(stocked)] == [
        ("Supplier South", True), ("Supplier North", False),
    ]  # fmt: skip


@pytest.mark.parametrize(
    "wrong",
    [
        {"item": "NOTHING"}, {"supplier": "Nobody"}, {"units_per_pack": 0}, {"pack_cents": -1}, {"catalogue_no": ""},
        {"contents": (PackPart("LIGHT-A", 1),)}, {"contents": (PackPart("TIP-1", 0),)},
        {"contents": (PackPart("TIP-1", 6), PackPart("TIP-1", 6))}, {"contents": (PackPart("X", 1),)},
        {"breaks": ((1, 100),)}, {"breaks": ((5, 100), (5, 90))},
    ],
)  # fmt: skip
def test_a_wrong_supply_is_refused(stocked: Practice, wrong: dict[str, object]) -> None:
    with pytest.raises(BadInput):
        catalogue.save_supply(stocked, box(**{"item": "LIGHT-A", **wrong}), by=BY)  # type: ignore[arg-type]
    assert catalogue.supplies(stocked) == ()


def test_a_suppliers_terms_are_kept_and_changes_logged(practice: Practice) -> None:
    draft = replace(
        SUPPLIER,
        order_weekdays=(4, 1),
        minimum_cents=5000,
        fee_cents=900,
        free_from_cents=15_000,
        takes_short_dated=True,
    )
    catalogue.add_supplier(practice, draft, by=BY)
    assert catalogue.suppliers(practice)[0].draft == replace(draft, order_weekdays=(1, 4))
    catalogue.change_supplier(practice, "supplier north", replace(draft, lead_days=5), by=BY)
    assert changes(practice, "supplier", SUPPLIER.name)["lead_days"] == ("3", "5")


@pytest.mark.parametrize(
    "wrong", [{"lead_days": -1}, {"order_weekdays": (0,)}, {"fee_cents": -1}, {"name": " "}, {"name": "SUPPLIER NORTH"}]
)
def test_a_wrong_supplier_is_refused(practice: Practice, wrong: dict[str, object]) -> None:
    catalogue.add_supplier(practice, SUPPLIER, by=BY)
    with pytest.raises(BadInput):
        catalogue.add_supplier(practice, replace(SUPPLIER, **{"name": "Supplier East", **wrong}), by=BY)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("body", "digit"), [("950110153100", "0"), ("9501234", "6"), ("629104150021", "3"), ("0950600013435", "2")]
)
def test_check_digits_of_gtins(body: str, digit: str) -> None:
    # GS1 General Specifications, weights 3 and 1 from the right; examples read in the source or computed from the rule
    assert check_digit(body) == digit


def test_gtins_of_all_lengths_compare_equal() -> None:
    assert gtin14("09506000134352") == gtin14("9506000134352") == "09506000134352"
    assert gtin14("95012346") == "00000095012346"


@pytest.mark.parametrize("wrong", ["9506000134353", "950600013435", "95060001343 2", "\u0669506000134352", ""])
def test_a_gtin_with_a_wrong_digit_is_refused(wrong: str) -> None:
    with pytest.raises(BadInput):
        gtin14(wrong)


def test_a_box_and_a_single_unit_have_different_codes(stocked: Practice) -> None:
    catalogue.add_barcode(stocked, "gtin", "09506000134352", item="LIGHT-A", units=2, by=BY)
    catalogue.add_barcode(stocked, "own", "LA-1", item="LIGHT-A", units=1, by=BY)
    assert [(one.code, one.units) for one in catalogue.item(stocked, "LIGHT-A").barcodes] == [
        ("09506000134352", 2), ("LA-1", 1),
    ]  # fmt: skip


def test_a_code_that_meant_something_else_is_changed_and_logged(stocked: Practice) -> None:
    catalogue.add_barcode(stocked, "own", "X1", item="LIGHT-A", units=2, by=BY)
    catalogue.add_barcode(stocked, "own", "X1", item="HEAVY-A", units=2, by=BY)
    assert catalogue.item(stocked, "LIGHT-A").barcodes == ()
    assert changes(stocked, "barcode", "X1")["item"][1] == f"{catalogue.item(stocked, 'HEAVY-A').item_id} x 2"


@pytest.mark.parametrize(("scheme", "units"), [("qr", 1), ("own", 0)])
def test_a_code_without_a_sense_is_refused(stocked: Practice, scheme: str, units: int) -> None:
    with pytest.raises(BadInput):
        catalogue.add_barcode(stocked, scheme, "X1", item="LIGHT-A", units=units, by=BY)


def test_who_changes_the_catalogue_must_be_known(practice: Practice) -> None:
    with pytest.raises(NotFound):
        catalogue.add_item(practice, LIGHT, by="ZZ")
    with pytest.raises(NotFound):
        catalogue.item(practice, "LIGHT-A")

"""Visits: what kinds there are, what their steps need, what is expected, what was planned and what was used."""

from datetime import date, datetime
from typing import Any

from sqlalchemy import JSON, CheckConstraint, Index, UniqueConstraint
from sqlalchemy import text as sql
from sqlmodel import Field, SQLModel

from inventory.domain.vocabulary import (
    Arch,
    EstimateSource,
    ItemKind,
    RemakeAskedBy,
    SettingSpeed,
    Technique,
    TrialOutcome,
    Viscosity,
    VisitState,
)
from inventory.store.columns import instant, key, link, short_text, whole, words


class CaseKind(SQLModel, table=True):
    __tablename__ = "case_kind"

    id: int | None = key()
    code: str = short_text(40, unique=True)
    name: str = short_text(80)
    technique: Technique = words(Technique, "technique")
    ships: Any = Field(default_factory=list, sa_type=JSON, nullable=False)  # what goes to the laboratory
    active: bool = True


class Step(SQLModel, table=True):
    """One step of a case kind; by arch, or once per visit where ``arch`` is null."""

    __table_args__ = (
        UniqueConstraint("case_kind_id", "code", "arch"),
        Index("uq_step_per_visit", "case_kind_id", "code", unique=True,
              sqlite_where=sql("arch IS NULL"), postgresql_where=sql("arch IS NULL")),
    )  # fmt: skip

    id: int | None = key()
    case_kind_id: int = link("case_kind.id", index=False)
    code: str = short_text(40)
    name: str = short_text(60)
    position: int
    arch: Arch | None = words(Arch, "arch", nullable=True)


class Need(SQLModel, table=True):
    """What a step asks for, not which article serves it."""

    __table_args__ = (CheckConstraint("viscosity IS NULL OR kind IN ('impression', 'bite')", name="viscosity"),)

    id: int | None = key()
    step_id: int = link("step.id")
    kind: ItemKind = words(ItemKind, "kind")
    viscosity: Viscosity | None = words(Viscosity, "viscosity_type", nullable=True)
    setting_speed: SettingSpeed | None = words(SettingSpeed, "setting_speed", nullable=True)
    tray_line: str | None = short_text(40, nullable=True)
    optional: bool = False


class NeedItem(SQLModel, table=True):
    """The practice's article for a need (rank 0), then the substitutes the dentist approves."""

    __tablename__ = "need_item"
    __table_args__ = (UniqueConstraint("need_id", "rank"),)

    need_id: int = link("need.id", primary=True, index=False)
    item_id: int = link("item.id", primary=True)
    rank: int


class Estimate(SQLModel, table=True):
    """What a need is expected to take per attempt, net of tip and purge. Append-only; the newest counts, a pin wins."""

    __table_args__ = (
        CheckConstraint("mean_qty >= 0 AND sd_qty >= 0", name="figures"),
        CheckConstraint("retake_ppm >= 0 AND retake_ppm < 1000000", name="retake"),
    )

    id: int | None = key()
    need_id: int = link("need.id")
    source: EstimateSource = words(EstimateSource, "source")
    mean_qty: int = whole()
    sd_qty: int = whole()
    retake_ppm: int = 0
    weight: int = 0
    observations: int = 0
    as_of: datetime = instant()
    why: Any = Field(default_factory=list, sa_type=JSON, nullable=False)


class SizePrior(SQLModel, table=True):
    """Expected share of a tray size before any was fitted; weights of one line and arch sum to one million."""

    __tablename__ = "size_prior"
    __table_args__ = (CheckConstraint("weight_ppm >= 0 AND weight_ppm <= 1000000", name="weight"),)

    line: str = Field(primary_key=True, max_length=40)
    arch: Arch = words(Arch, "arch", primary=True)
    tray_size: str = Field(primary_key=True, max_length=12)
    weight_ppm: int


class Visit(SQLModel, table=True):
    """A patient visit under a case reference, never a name. A case may have several visits."""

    __table_args__ = (
        CheckConstraint("upper OR lower", name="arch"),
        CheckConstraint("(remake_of_id IS NULL) = (remake_asked_by IS NULL)", name="remake"),
        Index("uq_visit_source", "source_key", "on", unique=True,
              sqlite_where=sql("source_key IS NOT NULL"), postgresql_where=sql("source_key IS NOT NULL")),
        Index("ix_visit_state", "state", "on"),
        Index("ix_visit_case_ref", "case_ref"),
    )  # fmt: skip

    id: int | None = key()
    case_ref: str = short_text(40)
    on: date
    case_kind_id: int = link("case_kind.id")
    upper: bool
    lower: bool
    upper_size: str | None = short_text(12, nullable=True)
    lower_size: str | None = short_text(12, nullable=True)
    remake_of_id: int | None = link("visit.id", nullable=True)
    remake_asked_by: RemakeAskedBy | None = words(RemakeAskedBy, "remake_asked_by", nullable=True)
    state: VisitState = words(VisitState, "state", default=VisitState.PLANNED)
    place_id: int | None = link("place.id", nullable=True)
    note: str = short_text(500, default="")
    source_key: str | None = short_text(64, nullable=True)
    source_sequence: int | None = None
    version: int = 1


class VisitUse(SQLModel, table=True):
    """What was expected, as the estimate stood, beside what was booked; never recomputed."""

    __tablename__ = "visit_use"

    id: int | None = key()
    visit_id: int = link("visit.id")
    need_id: int | None = link("need.id", nullable=True)
    item_id: int = link("item.id")
    arch: Arch | None = words(Arch, "arch", nullable=True)
    step: str | None = short_text(40, nullable=True)
    attempt: int = 1
    expected_qty: int = whole()
    actual_qty: int = whole()
    document_id: int | None = link("document.id", nullable=True)


class TrayTrial(SQLModel, table=True):
    """What became of a tray at a visit; feeds the size mix."""

    __tablename__ = "tray_trial"

    id: int | None = key()
    visit_id: int = link("visit.id")
    arch: Arch = words(Arch, "arch")
    item_id: int = link("item.id")
    outcome: TrialOutcome = words(TrialOutcome, "outcome")
    document_id: int | None = link("document.id", nullable=True)

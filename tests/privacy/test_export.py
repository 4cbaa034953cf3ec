"""A patient's own copy: whole, without the clinician's notes, and harmless in a spreadsheet."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pandas
import pytest

from bot.conversation import export
from storage import people
from storage.database import Database, open_database
from storage.export import PatientRecord, patient_record, patients_called
from tests.privacy.lives import BEGUN, START, Life, the_clinicians, two_clinicians

NOW = datetime(2026, 4, 1, 12, tzinfo=UTC)
EVIL = "=cmd|' /C calc'!A0"


@pytest.fixture(scope="module")
def memory() -> Iterator[Database]:
    opened = open_database("sqlite://")
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def record(memory: Database) -> PatientRecord:
    with memory.session() as session:
        clinicians = two_clinicians(session)
        life = Life(session, alias="=Rowan", address="100001", word="quokka", clinicians=clinicians)
        Life(session, alias="Wren", address="100002", word="zeppelin", clinicians=clinicians)
        life.hears(EVIL, BEGUN + timedelta(days=19, hours=1))
    with memory.session() as session:
        return patient_record(session, life.id)


def test_json_holds_everything_but_the_notes_and_nothing_of_anybody_else(record: PatientRecord) -> None:
    text = export.json_document(record, NOW)
    told = json.loads(text)
    assert len(told["mornings"]) == 20
    assert len(told["evenings"]) == 20
    assert told["mornings"][3] == {
        "day": "2026-03-05",
        "first_step_pain": 3,
        "rest_pain": "intermittent",
        "minutes_until_settled": 5.5,
        "message": told["mornings"][3]["message"],
        "recorded_at": "2026-03-05T07:00:00Z",
        "withdrawn_at": None,
    }
    assert told["mornings"][19]["withdrawn_at"] == "2026-03-21T07:00:00Z"
    assert told["evenings"][0]["activities"] == [
        {"activity": "walking", "minutes": 12.5, "count": None, "steps": None, "km": None},
        {"activity": "stairs", "minutes": None, "count": 3, "steps": None, "km": None},
    ]
    assert {"exercise": "toe_hold", "sets": 1, "reps": None, "seconds": 30} in told["evenings"][0]["exercises"]
    assert len(told["decisions"]) == 20
    assert all(each["reasons"] and each["reasons"][0]["rule"] for each in told["decisions"])
    assert {"walk_minutes", "heel_raise_step", "sets", "reps"} == set(told["decisions"][0]["plan"])
    assert [each["sign"] for each in told["warning_signs"]] == ["clot_signs", "clot_signs"]
    assert "quokka" in told["warning_signs"][0]["your_words"]
    assert [each["what"] for each in told["clinician_actions"]] == ["note", "dose", "clear"]
    assert told["clinician_actions"][1]["details"] == {"walk": 9}
    assert told["clinician_actions"][1]["by"] == "Dr Vale"
    # 20 mornings, 20 evenings, two warnings and the last one.
    assert len(told["messages_from_you"]) == 43
    assert len(told["messages_to_you"]) == 40
    assert told["you"]["chat"] == {"channel": "telegram", "address": "100001"}
    assert "notes are left out" in told["about"]
    assert "private-quokka" not in text
    assert told["warning_signs"][0]["note"] == export.NOTE_KEPT_BACK
    for others in ("zeppelin", "Wren", "100002", "900001"):
        assert others not in text


def test_flares_are_in_the_copy(record: PatientRecord) -> None:
    standing = [row for row in record.flares if row.superseded_at is None]
    assert len(standing) >= 3, "the programme was chosen for its flares"
    told = json.loads(export.json_document(record, NOW))["flares"]
    assert [(each["day"], each["cause"]) for each in told] == [
        (row.day.isoformat(), row.cause) for row in record.flares
    ]
    rows = csv.DictReader(io.StringIO(export.csv_document(record).removeprefix("\ufeff")))
    assert {row["day"]: row["flare_cause"] for row in rows if row["flare_cause"]} == {
        row.day.isoformat(): row.cause for row in standing
    }


def test_csv_has_a_line_a_day_and_numbers_stay_numbers(record: PatientRecord) -> None:
    frame = pandas.read_csv(io.StringIO(export.csv_document(record)))
    assert list(frame["day"]) == [(START + timedelta(days=number)).isoformat() for number in range(20)]
    assert list(frame["day_number"]) == list(range(1, 21))
    assert list(frame["first_step_pain"][:19]) == [number % 9 for number in range(19)]
    assert pandas.isna(frame["first_step_pain"][19]), "it was taken back"
    assert list(frame["walking_minutes"]) == [12.5] * 20
    assert list(frame["worst_pain"]) == [4] * 20
    assert set(frame["other_activities"]) == {"stairs 3 times"}
    assert set(frame["other_exercises"]) == {"toe_hold sets 1 seconds 30"}
    assert frame["planned_walk_minutes"].dtype.kind == "i"
    assert frame["warning_signs"][3] == "clot_signs; clot_signs"


def test_no_cell_of_a_copy_is_run_by_a_spreadsheet(record: PatientRecord) -> None:
    # https://owasp.org/www-community/attacks/CSV_Injection
    rows = list(csv.reader(io.StringIO(export.csv_document(record).removeprefix("\ufeff"), newline="")))
    cells = [cell for row in rows for cell in row]
    assert "'=Rowan" in cells
    assert not [cell for cell in cells if cell.startswith(("=", "+", "-", "@", "\t", "\r"))]
    assert len({len(row) for row in rows}) == 1


@pytest.mark.parametrize(
    "text",
    [EVIL, "+1+1", "-2+3", "@SUM(A1)", "\t=1", "\r=1", "\n=1", " =1", "\0=1", "＝1", "＋1", "－1", "＠x"],
)
def test_what_a_spreadsheet_would_run_gets_an_apostrophe(text: str) -> None:
    assert export.safe_cell(text) == "'" + text


@pytest.mark.parametrize("value", [-3, -2.5, 0, None, "walked 5", "it's", "a=b", "5-3", ""])
def test_what_is_harmless_stays_as_it_is(value: object) -> None:
    assert export.safe_cell(value) == value


def test_a_cell_with_quotes_commas_and_lines_comes_back_whole(memory: Database) -> None:
    said = 'a "quoted", word\nand a line;=1+1'
    with memory.session() as session:
        life = Life(session, alias="Q", address="q", word="w", clinicians=the_clinicians(session), days=1)
        life.hears(said, BEGUN + timedelta(days=5))
        text = export.csv_document(patient_record(session, life.id))
    rows = list(csv.DictReader(io.StringIO(text.removeprefix("\ufeff"), newline="")))
    assert rows[-1]["your_words"] == said


def test_the_fhir_bundle_is_valid_r4_and_carries_the_scores(record: PatientRecord) -> None:
    from fhir.resources.R4B.bundle import Bundle

    text = export.fhir_document(record, NOW)
    bundle = Bundle.model_validate_json(text)
    assert bundle.type == "collection"
    patient, *observations = [entry.resource for entry in bundle.entry]
    assert [each.value for each in patient.identifier] == ["=Rowan"]
    assert patient.name is None
    assert len(observations) == 19, "the withdrawn morning is not one"
    for number, each in enumerate(observations):
        (coding,) = each.code.coding
        # https://loinc.org/72514-3
        assert (coding.system, coding.code) == ("http://loinc.org", "72514-3")
        assert coding.display == "Pain severity - 0-10 verbal numeric rating [Score] - Reported"
        assert each.status == "final"
        assert str(each.effectiveDateTime) == (START + timedelta(days=number)).isoformat()
        assert each.valueQuantity.value == number % 9
        assert each.valueQuantity.code == "{score}"
        assert each.subject.reference == bundle.entry[0].fullUrl
        assert each.bodySite.text == "right heel"
    urls = [entry.fullUrl for entry in bundle.entry]
    assert len(set(urls)) == len(urls)
    # FHIR R4, Resource.id and Bundle: an instant has a zone; https://hl7.org/fhir/R4/datatypes.html#instant
    assert json.loads(text)["timestamp"] == "2026-04-01T12:00:00Z"
    assert json.loads(text)["entry"][1]["resource"]["issued"] == "2026-03-02T07:00:00Z"
    assert "quokka" not in text
    assert "100001" not in text


def test_the_archive_holds_the_three_files(record: PatientRecord) -> None:
    with zipfile.ZipFile(io.BytesIO(export.archive(record, NOW))) as packed:
        assert packed.testzip() is None
        assert packed.namelist() == ["everything.json", "days.csv", "fhir-bundle.json"]
        for name, content in export.documents(record, NOW).items():
            assert packed.read(name) == content


def test_a_patient_without_a_report_has_a_copy_too(database: Database) -> None:
    with database.session() as session:
        patient = people.add_patient(session, alias="New", channel="telegram", address="n", created_at=BEGUN)
        session.flush()
        record = patient_record(session, patient.id or 0)
    assert json.loads(export.json_document(record, NOW))["mornings"] == []
    assert export.csv_document(record).count("\r\n") == 1
    assert len(json.loads(export.fhir_document(record, NOW))["entry"]) == 1


def test_both_databases_tell_the_same(database: Database, record: PatientRecord) -> None:
    with database.session() as session:
        clinicians = two_clinicians(session)
        life = Life(session, alias="=Rowan", address="100001", word="quokka", clinicians=clinicians)
        Life(session, alias="Wren", address="100002", word="zeppelin", clinicians=clinicians)
        life.hears(EVIL, BEGUN + timedelta(days=19, hours=1))
    with database.session() as session:
        assert export.documents(patient_record(session, life.id), NOW) == export.documents(record, NOW)
        assert [each.id for each in patients_called(session, "=rowan")] == [life.id]
        with pytest.raises(LookupError):
            patient_record(session, 10_000)

"""Inviting patients, and letting colleagues in."""

from __future__ import annotations

import re
from typing import Any

from bot.conversation.desk.core import ClinicianDesk
from bot.conversation.desk.orders import raises_of, walk_of
from bot.conversation.desk.periods import end_of_period
from bot.conversation.wording import clinic
from bot.conversation.wording import clinician as words
from bot.program.ladder import LOWEST
from bot.program.protocol import DEFAULT, ProtocolError
from storage import invitations, people, shares
from storage.tables import Clinician, Patient

LONGEST_ALIAS = 24
_ALIAS = re.compile(r"^[\w.'\- ]+$")
_OPTION = re.compile(r"\s+(?=(?:walk|walking|target|raises)\s)", re.IGNORECASE)
_TARGET = re.compile(r"^target\s+(\d{1,3})\s*(?:min|minutes)?$")
_SHARE = re.compile(r"^(.+?)\s+with\s+(.+)$", re.IGNORECASE)
_COVER = re.compile(r"^(.+?)\s+((?:until|till|for)\s+.+|\d{4}-\d{2}-\d{2})$", re.IGNORECASE)
_RESERVED = frozenset({"all", "off", "with"})


def invite(desk: ClinicianDesk, argument: str) -> None:
    """Make an invitation for a patient: a link and a picture of it to hand over."""
    alias, *options = _OPTION.split(argument.strip())
    alias = re.sub(r"\s+", " ", alias).strip()
    if not alias or len(alias) > LONGEST_ALIAS or not _ALIAS.match(alias) or alias.casefold() in _RESERVED:
        desk.say(clinic.bad_invite(f"A short name is needed: letters and digits, at most {LONGEST_ALIAS}."))
        return
    columns = _start(desk, options)
    if columns is None:
        return
    known = [each for each in desk.caseload(shares.ALL) if each.alias.casefold() == alias.casefold()]
    again = next((each for each in known if each.clinician_id == desk.id and each.status in {"invited", "left"}), None)
    taken = next((each for each in known if each.status != "left"), None)
    if again is None and taken is not None:
        desk.say(clinic.bad_invite(clinic.same_name(desk.name_of(taken), ended=taken.status == "ended")))
        return
    if again is not None and again.start is not None and columns:
        # Their programme goes on where it was; a start has no meaning for it.
        desk.say(clinic.bad_invite(clinic.start_is_over(again.alias)))
        return
    patient = again or people.add_patient(
        desk.session,
        alias=alias,
        clinician_id=desk.id,
        channel=desk.clinician.channel,
        timezone=desk.clinician.timezone,
        created_at=desk.now,
    )
    for name, value in columns.items():
        setattr(patient, name, value)
    patient.status, patient.address = "invited", None
    desk.session.flush()
    desk.about = patient
    if desk.message is not None:
        desk.message.patient_id = patient.id
    token = invitations.new_token()
    invitations.invite(desk.session, token, role="patient", now=desk.now, patient_id=patient.id)
    desk.log(patient, "invite", **columns)
    link = desk.invitation_link(token)
    desk.say(clinic.invited(patient.alias, link), secret=True, attachment={"what": "qr", "link": link})
    if patient.start is not None:
        desk.say(clinic.invited_back(patient.alias))
        return
    walk = patient.start_walk if patient.start_walk is not None else DEFAULT.walk_start
    raises = (
        f"{patient.start_step} {patient.start_sets}x{patient.start_reps}" if patient.start_step is not None else LOWEST
    )
    goal = "" if patient.walk_target is None else f", target {patient.walk_target} min"
    desk.say(clinic.invited_how(patient.alias, f"walking {walk} min{goal}, heel raises {raises}"))


def _start(desk: ClinicianDesk, options: list[str]) -> dict[str, Any] | None:
    """The columns of the wanted start, or None after saying what is wrong."""
    columns: dict[str, Any] = {}
    for option in options:
        minutes, raises, target = walk_of(option), raises_of(option), _TARGET.match(option.casefold())
        if minutes is not None:
            columns["start_walk"] = minutes
        elif raises is not None:
            columns |= {"start_step": str(raises.step), "start_sets": raises.sets, "start_reps": raises.reps}
        elif target is not None:
            try:
                DEFAULT.changed(walk_target=int(target[1]))
            except ProtocolError as problem:
                desk.say(clinic.bad_invite(f"That target cannot be set: {problem}."))
                return None
            columns["walk_target"] = int(target[1])
        else:
            desk.say(clinic.bad_invite(f'I could not use "{option}".'))
            return None
    return columns


def _colleague(desk: ClinicianDesk, name: str) -> Clinician | None:
    others = [each for each in people.clinicians(desk.session) if each.id != desk.id and each.address is not None]
    found = [each for each in others if each.name.casefold() == name.strip().casefold()]
    if len(found) == 1:
        return found[0]
    problem = f'"{name}" fits more than one colleague.' if found else f'There is no colleague called "{name}".'
    desk.say(clinic.which_colleague(problem, tuple(each.name for each in others)))
    return None


def _own(desk: ClinicianDesk, name: str) -> Patient | None:
    said = " ".join(name.casefold().split())
    seen = desk.caseload()
    for each in seen:
        if each.clinician_id == desk.id and said in {each.alias.casefold(), desk.name_of(each).casefold()}:
            return each
    if any(said in {each.alias.casefold(), desk.name_of(each).casefold()} for each in seen):
        desk.say(clinic.not_yours(name.strip()))
    else:
        desk.say(words.unknown_name(name.strip(), [each.alias for each in seen if each.clinician_id == desk.id]))
    return None


def share(desk: ClinicianDesk, argument: str) -> None:
    """Let a colleague see and treat one patient, or all."""
    found = _SHARE.match(argument.strip())
    if found is None:
        desk.say(clinic.share_how())
        return
    everybody = found[1].casefold() == "all"
    patient = None if everybody else _own(desk, found[1])
    if patient is None and not everybody:
        return
    colleague = _colleague(desk, found[2])
    if colleague is None or colleague.id is None:
        return
    shares.share(
        desk.session,
        owner_id=desk.id,
        colleague_id=colleague.id,
        patient_id=None if patient is None else patient.id,
        until=None,
        now=desk.now,
    )
    what = "all your patients" if patient is None else patient.alias
    if patient is not None:
        desk.log(patient, "share", colleague=colleague.name)
    desk.about = patient
    desk.say(clinic.shared(what, colleague.name, "all" if patient is None else patient.alias))
    told = "all their patients" if patient is None else patient.alias
    desk.replies.say(clinic.told_shared(desk.clinician.name, told, None), clinician=colleague, about=patient)


def unshare(desk: ClinicianDesk, argument: str) -> None:
    """End what was shared."""
    found = _SHARE.match(argument.strip())
    name, colleague_name = (found[1], found[2]) if found is not None else (argument.strip(), "")
    if not name:
        desk.say(clinic.share_how())
        return
    everybody = name.casefold() == "all"
    patient = None if everybody else _own(desk, name)
    if patient is None and not everybody:
        return
    colleague = _colleague(desk, colleague_name) if colleague_name else None
    if colleague_name and colleague is None:
        return
    out = shares.end(
        desk.session,
        owner_id=desk.id,
        colleague_id=None if colleague is None else colleague.id,
        patient_id=None if patient is None else patient.id,
        now=desk.now,
    )
    if out and patient is not None:
        desk.log(patient, "unshare", colleague=", ".join(_names(desk, out)))
    desk.about = patient
    _say_ended(desk, out, patient)


def _names(desk: ClinicianDesk, ids: list[int]) -> list[str]:
    return [each.name for each in (people.clinician_by_id(desk.session, one) for one in ids) if each is not None]


def _say_ended(desk: ClinicianDesk, out: list[int], patient: Patient | None) -> None:
    """Say what ended, who still sees it by another share, and tell those who are out."""
    what = "Your caseload" if patient is None else patient.alias
    if patient is None:
        still = sorted({each.colleague_id for each in shares.of_owner(desk.session, desk.id, desk.now)})
    else:
        still = [each.id or 0 for each in shares.colleagues_for(desk.session, patient, desk.now)]
    text = clinic.unshared(what, _names(desk, out)) if out else clinic.nothing_shared(what, by_itself=bool(still))
    if still and patient is not None:
        text += "\n" + clinic.still_shared(patient.alias, _names(desk, still))
    desk.say(text)
    for each in out:
        if each not in still and (colleague := people.clinician_by_id(desk.session, each)) is not None:
            told = "their caseload" if patient is None else patient.alias
            desk.replies.say(clinic.told_unshared(desk.clinician.name, told), clinician=colleague, about=patient)


def cover(desk: ClinicianDesk, argument: str) -> None:
    """A colleague takes over the whole caseload until a date."""
    if argument.strip().casefold() == "off":
        out = shares.end(
            desk.session, owner_id=desk.id, colleague_id=None, patient_id=None, now=desk.now, covers_only=True
        )
        if not out:
            desk.say(clinic.no_cover())
            return
        desk.say(clinic.cover_ended(_names(desk, out)))
        still = {each.colleague_id for each in shares.of_owner(desk.session, desk.id, desk.now)}
        for each in out:
            colleague = people.clinician_by_id(desk.session, each)
            if colleague is not None:
                desk.replies.say(
                    clinic.told_cover_ended(desk.clinician.name, still_shared=each in still), clinician=colleague
                )
        return
    found = _COVER.match(argument.strip())
    until = None if found is None else end_of_period(found[2], desk.today)
    if found is None or until is None:
        desk.say(clinic.cover_how(argument.strip()))
        return
    colleague = _colleague(desk, found[1])
    if colleague is None or colleague.id is None:
        return
    shares.share(desk.session, owner_id=desk.id, colleague_id=colleague.id, patient_id=None, until=until, now=desk.now)
    desk.say(clinic.covered(colleague.name, until))
    desk.replies.say(clinic.told_shared(desk.clinician.name, "all their patients", until), clinician=colleague)

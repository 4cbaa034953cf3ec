"""What clinicians read about people: invitations, colleagues, alerts, who did what, taking back; and what patients hear of it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from bot.program.terms import PlanDone, RestPattern
from bot.program.values import DayDecision, Evening, Morning

UNDONE: dict[str, str] = {
    "pause": "the pause",
    "resume": "the end of the pause",
    "stop": "the stop of all loading",
    "allow": "the leave to load again",
    "dose": "the new dose",
    "phase": "the phase set by hand",
    "clear": "the clearing of the warning signs",
    "note": "the note",
    "target": "the new walking target",
    "interval": "the new interval",
    "end": "the end of the programme",
}
"""What can be taken back, and what it is called."""
DONE: dict[str, str] = {
    **UNDONE,
    "message": "a message to the patient",
    "invite": "an invitation",
    "share": "shared with a colleague",
    "unshare": "no longer shared",
    "seen": "alert seen",
    "undo": "took back",
    "notice": "the rules' notice",
    "joined": "the patient joined",
    "left": "the patient left",
    "unreachable": "the chat takes no messages",
    "export": "the patient took their data",
}
"""What stands in the record of who did what."""
REST: dict[RestPattern, str] = {
    RestPattern.NONE: "none",
    RestPattern.INTERMITTENT: "comes and goes",
    RestPattern.CONSTANT: "constant",
}
PLAN_DONE: dict[PlanDone, str] = {PlanDone.ALL: "all done", PlanDone.SOME: "some done", PlanDone.NONE: "none done"}


# -- clinicians join


def clinician_joined(name: str) -> str:
    """A clinician opened their invitation."""
    return (
        f"Welcome, {name}. You are joined as a clinician.\n"
        "Invite your first patient: /invite NAME. Use a short name or initials that only you can place, no full name.\n"
        "/help lists all you can do. Warning signs reach you here at once. The weekly digest comes on Mondays at 08:00; "
        "/digesttime changes that.\n"
        "This bot is an aid beside you. Nobody watches it, and it is not an emergency service."
    )


def clinician_link(name: str, link: str) -> str:
    """The operator's invitation for a clinician."""
    return f"Invitation for {name}, as a clinician. It works once, within 7 days. Whoever opens it first is let in:\n{link}"


# -- patients are invited


def invited(alias: str, link: str) -> str:
    """The link to hand over."""
    return (
        f"Invitation for {alias}. It works once, within 7 days. "
        f"Show this picture, or hand over the link. Whoever opens it first becomes {alias}, so give it to nobody else:\n{link}"
    )


def invited_how(alias: str, given: str) -> str:
    """What the patient will start with, beside the link."""
    return (
        f"{alias} will start with {given}. I tell you when {alias} has joined. /undo {alias} takes the invitation back."
    )


def bad_invite(problem: str) -> str:
    """An invitation could not be made."""
    return (
        f"{problem} Nobody was invited.\n"
        "Write /invite NAME, and if you want a start: /invite NAME walk 5 target 30 raises seated both 2x8"
    )


def joined(alias: str, start: date) -> str:
    """A patient has finished enrolment."""
    return f"{alias} has joined. Day 1 is {start.isoformat()}."


def left(alias: str, *, erased: bool) -> str:
    """A patient left."""
    if erased:
        return f"{alias} has left and had all their data erased. Nothing of them is kept but the fact."
    return (
        f"{alias} has left the programme. Their record stays until it is erased. /invite {alias} lets them come back."
    )


def refused_consent(alias: str) -> str:
    """A patient said no at consent."""
    return f"{alias} opened the invitation and did not agree to take part. /invite {alias} makes a new one."


def unreachable(alias: str) -> str:
    """A patient's chat refuses messages."""
    return (
        f"{alias} cannot be reached: their chat takes no messages from me (blocked or deleted). "
        "No prompts, guidance or warnings reach them until they write to me again. Please contact them in another way."
    )


def not_handled(alias: str, text: str) -> str:
    """A patient's message met a fault in the program."""
    return f'A message of {alias} could not be handled because of a fault in the program. Please read it:\n"{text}"'


def reachable_again(alias: str) -> str:
    """A patient who could not be reached wrote again."""
    return f"{alias} can be reached again."


# -- a message, an end


def message_sent(alias: str) -> str:
    """A message was passed on."""
    return f"Passed on to {alias}. Their answer comes to the record; they can write to you with /message."


def message_empty(alias: str) -> str:
    """A message without text."""
    return f"The message was empty. Write it after the name: /message {alias} TEXT"


def message_too_long(longest: int) -> str:
    """A message too long to be passed on."""
    return f"That is too long: at most {longest} characters. Nothing was sent."


def message_from_patient(alias: str, text: str) -> str:
    """A patient writes to the clinician."""
    return f'{alias} writes to you:\n"{text}"\nTo answer: /message {alias} TEXT'


def ended(alias: str) -> str:
    """A programme was ended."""
    return f"The programme of {alias} has ended: no more prompts and no plan. The record stays. /undo {alias} takes it back."


def tell_message(clinician: str, text: str) -> str:
    """A patient reads what the clinician wrote."""
    return f"A message from {clinician}:\n{text}"


def tell_ended(clinician: str) -> str:
    """A patient is told that the programme ended."""
    who = clinician[:1].upper() + clinician[1:]
    return (
        f"{who} has ended your programme here. I will not ask you any more.\n"
        f"Thank you for all your answers. If the heel gets worse, contact {clinician}. "
        "In an emergency, call your local emergency number."
    )


# -- colleagues


def which_colleague(problem: str, others: Iterable[str]) -> str:
    """The colleague is not clear."""
    listed = ", ".join(others) or "none yet; the operator invites them"
    return f"{problem} Nothing was changed. Your colleagues here: {listed}."


def share_how() -> str:
    """How sharing is written."""
    return (
        "Write /share NAME with COLLEAGUE, or /share all with COLLEAGUE, and /unshare NAME to end it.\n"
        "For a holiday: /cover COLLEAGUE until 2030-05-31, and /cover off to end it early."
    )


def not_yours(alias: str) -> str:
    """Only a patient's own clinician shares."""
    return f"{alias} is shared with you; only their own clinician can share or invite them. Nothing was changed."


def shared(what: str, colleague: str) -> str:
    """Something is shared."""
    return f"{colleague} now sees {what} and can do for them what you can. /unshare ends it."


def told_shared(owner: str, what: str, until: date | None) -> str:
    """The colleague is told."""
    end = "" if until is None else f" to the end of {until.isoformat()}; their alerts come to you as well"
    return f"{owner} has shared {what} with you{end}. /caseload shows them."


def unshared(what: str) -> str:
    """Something is no longer shared."""
    return f"{what} is no longer shared."


def nothing_shared(what: str) -> str:
    """There was nothing to end."""
    return f"{what} was not shared with anybody."


def covered(colleague: str, until: date) -> str:
    """A colleague takes over for a while."""
    return (
        f"{colleague} has your whole caseload to the end of {until.isoformat()}, and gets your patients' alerts as well as you. "
        "/cover off ends it."
    )


def same_name(alias: str) -> str:
    """A name that is on the list already."""
    return f"There is a patient called {alias} on your list already."


# -- alerts


def alert_again(text: str, hours: int) -> str:
    """An alert that nobody has acknowledged."""
    since = f"{hours} hour" if hours == 1 else f"{hours} hours"
    return f"NOT YET SEEN for {since}. Please press Seen when you have it.\n\n{text}"


def alert_passed_on(owner: str, text: str, hours: int) -> str:
    """An alert that goes to the colleague."""
    return f"This was sent to {owner} {hours} hours ago and not acknowledged. Please look, or ask them.\n\n{text}"


def alert_nobody_else(alias: str) -> str:
    """An alert that nobody else can be given."""
    return f"No colleague is set for {alias}, so nobody else is told. /share sets one."


def seen(aliases: Iterable[str]) -> str:
    """An alert was acknowledged."""
    return (
        f"Noted: you have seen the alert about {', '.join(aliases)}. It is not repeated. "
        "Loading stays stopped until you clear it."
    )


def nothing_unseen() -> str:
    """No alert waits."""
    return "There is no alert that waits to be seen."


# -- who did what, and taking back


def log_line(when: str, who: str, what: str) -> str:
    """One line of the record."""
    return f"{when} {who}: {what}"


def empty_log(alias: str) -> str:
    """Nothing was done yet."""
    return f"Nothing was done for {alias} yet."


def log_head(alias: str) -> str:
    """The head of the record."""
    return f"Who did what for {alias} (newest last):"


def nothing_to_undo(alias: str) -> str:
    """There is nothing to take back."""
    return f"There is nothing to take back for {alias}."


def undone(alias: str, kind: str, who: str) -> str:
    """Something was taken back."""
    return f"Taken back for {alias}: {UNDONE.get(kind, kind)} ({who}). It is as it was before."


def invitation_withdrawn(alias: str) -> str:
    """An invitation was taken back."""
    return f"The invitation for {alias} no longer works."


def dose_was_given(alias: str) -> str:
    """A dose that cannot be taken back any more."""
    return f"That dose is in force for {alias} already. Set the dose you want with /dose. Nothing was changed."


def tell_undone(clinician: str, kind: str) -> str:
    """The patient is told."""
    who = clinician[:1].upper() + clinician[1:]
    return f"{who} has taken back {UNDONE.get(kind, 'the last change')}. It is as it was before."


# -- one patient's week


def week_head(alias: str) -> str:
    """The head of a week's answers."""
    return f"{alias}, last 7 days (first steps / at rest / worst; walked, plan; decision):"


def week_line(day: date, morning: Morning, evening: Evening, walked: float | None, decision: DayDecision | None) -> str:
    """One day."""
    first = "-" if morning.first_step_pain is None else str(morning.first_step_pain)
    rest = "-" if morning.rest_pattern is None else REST[morning.rest_pattern]
    worst = "-" if evening.worst_pain is None else str(evening.worst_pain)
    parts = [f"{first} / {rest} / {worst}"]
    done = []
    if walked is not None:
        done.append(f"walked {walked:g} min")
    if evening.plan_done is not None:
        done.append(PLAN_DONE[evening.plan_done])
    if not evening.reported and morning.silent:
        parts = ["no answer"]
    parts.append(", ".join(done))
    parts.append("" if decision is None else str(decision.decision))
    return f"{day:%a} {day.day} {day:%b}: " + "; ".join(part for part in parts if part)


# -- settings and the digest


def digest_set(weekday: str, clock: str) -> str:
    """When the digest comes."""
    return f"Your digest comes each {weekday} at {clock}."


def digest_time_how() -> str:
    """How the digest's time is set."""
    return "Write a weekday and a time, like /digesttime Monday 08:00. Nothing was changed."


def at_once(on: bool) -> str:
    """Whether notices come at once."""
    if on:
        return (
            "I tell you at once when a patient is silent for 3 days, or has constant pain for more than 7. "
            "/atonce off ends it."
        )
    return "Silence and long constant pain are told in the weekly digest only. Warning signs still come at once."


def at_once_how() -> str:
    """How it is switched."""
    return "Write /atonce on or /atonce off."


def digest_coming() -> str:
    """The digest is being made."""
    return "Here is where your patients stand today."


def not_joined(alias: str) -> str:
    """An invited patient has not opened the link."""
    return f"{alias}: invited, not joined yet"


def chart_caption(alias: str) -> str:
    """The words beside a chart."""
    return f"{alias}: first-step pain, doses, flares and rest days."


def did_you_mean(name: str, close: str) -> str:
    """A name that nearly fits."""
    return f'You have no patient called "{name}". Nothing was changed. Do you mean {close}?'


def edited_message() -> str:
    """A clinician edited a message."""
    return "I do not act on edited messages. Please write the words again as a new message."


def words_only() -> str:
    """A clinician sent something that is no text."""
    return "I can read only words. /help lists what I understand."

"""What clinicians read about people: invitations, colleagues, alerts, who did what, taking back; and what patients hear of it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta

from bot.conversation.wording.flags import SIGN, URGENCY
from bot.program.terms import PlanDone, RedFlag, RestPattern, Urgency
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
    "zone": "the new time zone",
    "end": "the end of the programme",
}
"""What can be taken back, and what it is called."""
DONE: dict[str, str] = {
    **UNDONE,
    "message": "a message to the patient",
    "invite": "an invitation",
    "share": "shared",
    "unshare": "no longer shared",
    "seen": "alert seen",
    "undo": "took back",
    "notice": "told by the rules",
    "joined": "the patient joined",
    "left": "the patient left",
    "unreachable": "the patient's chat takes no messages",
    "export": "the patient took a copy of their data",
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
        f"Welcome, {name}. You have joined as a clinician.\n"
        "To invite your first patient, write /invite NAME. Use a short name or initials that only you can place, "
        "never a full name.\n"
        "Warning signs reach you here at once. The weekly digest comes on Mondays at 08:00; /digesttime changes that. "
        "/help lists all you can do.\n"
        "This bot is an aid beside you. Nobody watches it, and it is not an emergency service."
    )


def moved_away(name: str) -> str:
    """A chat that was a clinician's."""
    return (
        f"{name} now uses this bot from another account. This chat is no longer connected, and I send nothing here any more. "
        "If you did not ask for that, tell whoever runs the bot at once."
    )


def clinician_link(name: str, link: str, *, again: bool = False) -> str:
    """The operator's invitation for a clinician. `again`: for one who goes on from another account."""
    after = (
        f" {name} then goes on from that account with all their patients, and the old one is no longer connected."
        if again
        else ""
    )
    once = f"Invitation for {name}, as a clinician. It works once, within 7 days."
    return f"{once} Whoever opens it first is let in.{after}\n{link}"


# -- patients are invited


def invited(alias: str, link: str) -> str:
    """The link to hand over."""
    return (
        f"Invitation for {alias}. It works once, within 7 days. "
        f"Show this picture or hand over the link, to {alias} only: whoever opens it first is taken for {alias}.\n{link}"
    )


def invited_how(alias: str, given: str) -> str:
    """What the patient will start with, beside the link."""
    return (
        f"{alias} will start with {given}. I tell you when {alias} has joined. /undo {alias} takes the invitation back."
    )


def invited_back(alias: str) -> str:
    """Somebody who had left is invited again."""
    return (
        f"{alias} will go on with their own programme where it was, at lower doses after the gap. "
        f"I tell you when {alias} is back. /undo {alias} takes the invitation back."
    )


def start_is_over(alias: str) -> str:
    """A start was given for somebody whose programme began long ago."""
    return f"{alias} has a programme already and goes on with it, so no start can be set. /dose sets one once they are back."


def bad_invite(problem: str) -> str:
    """An invitation could not be made."""
    return (
        f"{problem} Nobody was invited.\n"
        "Write /invite NAME, and if you want a start: /invite NAME walk 5 target 30 raises seated both 2x8"
    )


def joined(alias: str, start: date, *, stopped: bool = False) -> str:
    """A patient has finished enrolment. `stopped`: a warning sign was named on the way."""
    if stopped:
        return (
            f"{alias} has finished enrolment; day 1 is {start.isoformat()}. All loading is stopped, "
            f"because of the warning sign. When you have looked at it, /allow {alias} lets it start."
        )
    return f"{alias} has joined. Day 1 is {start.isoformat()}."


def back(alias: str, *, stopped: bool = False) -> str:
    """Somebody who had left is back."""
    after = f" All loading is stopped; /allow {alias} ends that." if stopped else ""
    return f"{alias} is back and goes on with their own programme.{after}"


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
    return f"Sent to {alias}. It cannot be taken back. If they answer you with /message, I pass it on."


def message_not_sent(alias: str) -> str:
    """The patient has no chat that takes a message."""
    return f"Not sent: I cannot reach {alias}. They have no open chat with me. Please contact them in another way."


def not_told(alias: str) -> str:
    """Beside a confirmation: the patient could not be told."""
    return f"{alias} was NOT told: their chat takes no messages from me. Please tell them yourself."


def message_empty(alias: str) -> str:
    """A message without text."""
    return f"The message was empty. Write it after the name: /message {alias} TEXT"


def message_too_long(longest: int) -> str:
    """A message too long to be passed on."""
    return f"That is too long: at most {longest} characters. Nothing was sent."


def message_from_patient(alias: str, name: str, text: str, *, over: bool = False) -> str:
    """A patient writes to the clinician. `name`: what the patient is called in commands."""
    after = " Their programme here is over." if over else ""
    return f'{alias} writes to you.{after}\n"{text}"\nTo answer: /message {name} TEXT'


def ended(alias: str) -> str:
    """A programme was ended."""
    return (
        f"The programme of {alias} has ended: no more prompts and no plan. "
        f"If they still write of a warning sign, I pass it on to you. The record stays. /undo {alias} takes the end back."
    )


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
        "Write /share NAME with COLLEAGUE, or /share all with COLLEAGUE. /unshare NAME or /unshare all ends it.\n"
        "For a holiday: /cover COLLEAGUE until 2030-05-31. Nothing was changed."
    )


def cover_how(given: str) -> str:
    """How a cover is written."""
    return (
        f'I could not use "{given}". Nothing was changed.\n'
        "Write /cover COLLEAGUE until Friday, until 5 June, until 2030-05-31 (at most a year ahead), "
        "or /cover COLLEAGUE for 2 weeks. "
        "/cover off ends it."
    )


def not_yours(alias: str) -> str:
    """Only a patient's own clinician shares."""
    return f"{alias} is shared with you; only their own clinician can share or invite them. Nothing was changed."


def shared(what: str, colleague: str, name: str) -> str:
    """Something is shared. `name`: what ends it again."""
    return f"{colleague} now sees {what} and can do for them what you can. /unshare {name} ends it."


def told_shared(owner: str, what: str, until: date | None) -> str:
    """The colleague is told."""
    end = "" if until is None else f" to the end of {until.isoformat()}; their alerts come to you as well"
    return f"{owner} has shared {what} with you{end}. /caseload shows them."


def unshared(what: str, colleagues: Iterable[str]) -> str:
    """Something is no longer shared."""
    return f"{what} is no longer shared with {', '.join(colleagues)}."


def still_shared(alias: str, colleagues: Iterable[str]) -> str:
    """A patient is seen through another share."""
    return f"{alias} is still seen by {', '.join(colleagues)}, who sees your whole caseload. /unshare all ends that."


def told_unshared(owner: str, what: str) -> str:
    """The colleague is told that it is over."""
    return f"{owner} no longer shares {what} with you."


def nothing_shared(what: str, *, by_itself: bool = False) -> str:
    """There was nothing to end."""
    return f"{what} was not shared by itself." if by_itself else f"{what} was not shared with anybody."


def covered(colleague: str, until: date) -> str:
    """A colleague takes over for a while."""
    return (
        f"{colleague} covers for you to the end of {until:%A}, {until.isoformat()}: sees your whole caseload, "
        "can do what you can, and gets your patients' alerts at once. You still get them too. /cover off ends it."
    )


def no_cover() -> str:
    """Nobody covers."""
    return "Nobody covers for you. What you share for good is ended with /unshare."


def cover_ended(colleagues: Iterable[str]) -> str:
    """A cover was ended early."""
    return f"The cover by {', '.join(colleagues)} has ended."


def told_cover_ended(owner: str, *, still_shared: bool) -> str:
    """The colleague is told that the cover is over."""
    after = " You still see what they share with you for good." if still_shared else ""
    return f"{owner} is back: you no longer cover for them.{after}"


def same_name(alias: str, *, ended: bool = False) -> str:
    """A name that is on the list already."""
    if ended:
        return f"{alias} is the name of a patient whose programme has ended. Use another name for a new programme."
    return f"There is a patient called {alias} on your list already."


# -- alerts


PRESS_SEEN = "Please press Seen when you have read it."
_LONGEST_QUOTE = 300
"""Characters of a patient's words in a repeated alert; the alert itself had all of them."""


def _how_long(age: timedelta) -> str:
    hours = max(1, round(age.total_seconds() / 3600))
    if hours < 48:
        return "1 hour" if hours == 1 else f"{hours} hours"
    return f"{age.days} days"


def alert_again(
    alias: str, urgency: Urgency, codes: Iterable[RedFlag], words: str, *, age: timedelta, since: str, after: str
) -> str:
    """An alert that nobody has acknowledged, in short: who, since when, which signs, in which words."""
    signs = "; ".join(SIGN[code] for code in codes) or "a yes to the list of warning signs"
    quoted = words if len(words) <= _LONGEST_QUOTE else f"{words[:_LONGEST_QUOTE]} ..."
    lines = [
        f"NOT YET SEEN for {_how_long(age)} (since {since}): WARNING SIGN ({URGENCY[urgency]}), {alias}",
        f"{signs[:1].upper()}{signs[1:]}.",
        f'"{quoted}"' if quoted else "",
        after,
    ]
    return "\n".join(each for each in lines if each)


def alert_daily() -> str:
    """An alert of days ago."""
    return f"{PRESS_SEEN} Nobody has for 3 days, so I repeat it only once a day now."


def alert_last_time(alias: str) -> str:
    """An alert of days ago about somebody who is gone."""
    return f"{alias} has no programme here any more, so this is the last time that I repeat it. /seen {alias} notes it."


def alerts_wait_again(count: int) -> str:
    """Alerts that were marked as seen by what was taken back."""
    return " The alert waits to be seen again." if count == 1 else f" {count} alerts wait to be seen again."


def newer_alert(aliases: Iterable[str]) -> str:
    """Another alert came after the one that was acknowledged."""
    return f"A NEWER alert about {', '.join(aliases)} waits. Please read it, and press Seen under it."


def alert_after_end(alias: str) -> str:
    """Above an alert about somebody without a programme."""
    return f"{alias} has no programme here any more, and wrote all the same."


def alert_passed_on(owner: str, text: str) -> str:
    """An alert that goes to the colleague."""
    return f"This was sent to {owner} and not acknowledged. Please look, or ask them.\n{text}"


def alert_nobody_else(alias: str) -> str:
    """An alert that nobody else can be given."""
    return f"No colleague is set for {alias}, so nobody else is told. /share sets one."


def seen(aliases: Iterable[str], *, stopped: bool) -> str:
    """An alert was acknowledged. `stopped`: something still keeps the loading stopped."""
    after = " Loading stays stopped: /clear ends a red flag, /allow a stop." if stopped else ""
    return f"Noted: you have seen the alert about {', '.join(aliases)}. It is not repeated.{after}"


def nothing_unseen() -> str:
    """No alert waits."""
    return "There is no alert that waits to be seen."


# -- who did what, and taking back


def log_line(when: str, who: str | None, what: str) -> str:
    """One line of the record; without `who` the patient or the rules did it."""
    return f"{when} {what}" if who is None else f"{when} {who}: {what}"


def empty_log(alias: str) -> str:
    """Nothing was done yet."""
    return f"Nothing was done for {alias} yet."


def log_head(alias: str) -> str:
    """The head of the record."""
    return f"Who did what for {alias} (newest last):"


def nothing_to_undo(alias: str) -> str:
    """There is nothing to take back."""
    return f"There is nothing to take back for {alias}."


def undone(alias: str, kind: str, who: str, *, stays: bool) -> str:
    """Something was taken back. `stays`: a message was sent after it, which cannot be."""
    after = " The message that was sent after it cannot be taken back." if stays else ""
    return f"Taken back for {alias}: {UNDONE.get(kind, kind)} ({who}).{_AFTER.get(kind, '')}{after}"


_AFTER = {
    "stop": " Loading goes on as the rules decide.",
    "allow": " All loading is stopped again.",
    "clear": " The red flags are open again, and all exercises are stopped.",
    "end": " The prompts come back.",
}


def told_undone(who: str, alias: str, kind: str) -> str:
    """The one who had done it is told."""
    return f"{who} has taken back what you did for {alias}: {UNDONE.get(kind, kind)}."


def message_stays(alias: str) -> str:
    """A message cannot be taken back, and there is nothing else."""
    return (
        f"The message to {alias} was sent and cannot be taken back. Write another with /message. "
        "There is nothing else to take back."
    )


def pause_is_over(alias: str) -> str:
    """A pause that has run out."""
    return f"The last pause of {alias} is over already, so there is nothing to take back. Nothing was changed."


def stop_stays(alias: str) -> str:
    """A stop that a warning sign needs as well."""
    return (
        f"A warning sign of {alias} came after the stop, so the stop stays. Nothing was changed. "
        f"When you have looked at it, /allow {alias} ends the stop."
    )


def changed_since(alias: str, kind: str) -> str:
    """What an order set was set anew since."""
    return (
        f"{alias}: what {UNDONE.get(kind, kind)} set was changed again since, so it is not taken back. "
        f"Nothing was changed. /patient {alias} shows what holds now."
    )


def end_stays(alias: str) -> str:
    """The end of a programme that cannot be taken back."""
    return f"{alias} is no longer in that chat, so the end cannot be taken back. Nothing was changed. /invite makes a new start."


def invitation_withdrawn(alias: str) -> str:
    """An invitation was taken back."""
    return f"The invitation for {alias} no longer works."


def dose_was_given(alias: str) -> str:
    """A dose that cannot be taken back any more."""
    return f"That dose is in force for {alias} already. Set the dose you want with /dose. Nothing was changed."


def tell_undone(clinician: str, kind: str) -> str:
    """The patient is told."""
    who = clinician[:1].upper() + clinician[1:]
    return f"{who} has taken back {TOLD_UNDONE.get(kind, 'the last change')}. All goes on as it was before."


TOLD_UNDONE: dict[str, str] = {
    "dose": "the new dose",
    "phase": "the phase set by hand",
    "target": "the new walking target",
    "interval": "the new time between two steps up",
    "zone": "the new time zone",
}


def tell_stop_undone(clinician: str) -> str:
    """The patient is told that today's stop was taken back."""
    who = clinician[:1].upper() + clinician[1:]
    return f'{who} has taken back the stop. Today goes on as planned. Write "plan" to see it.'


def tell_open_again(clinician: str) -> str:
    """The patient is told that a warning sign counts as open again."""
    who = clinician[:1].upper() + clinician[1:]
    return (
        f"{who} wants to look at your warning sign again. Please do no exercises until {clinician} says so.\n"
        "If it gets worse, do not wait: call urgent care, or your local emergency number."
    )


def tell_goes_on(clinician: str, *, enrolling: bool) -> str:
    """The patient is told that the programme goes on after all."""
    who = clinician[:1].upper() + clinician[1:]
    after = (
        "Please answer my last question." if enrolling else "I will ask you again in the morning and in the evening."
    )
    return f"{who} has taken back the end. Your programme goes on. {after}"


# -- one patient's week


def week_head(alias: str) -> str:
    """The head of a week's answers."""
    return f"{alias}, last 7 days\n(first steps / at rest / worst; walked, plan; decision)"


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


def zone_how(given: str, now: str) -> str:
    """How a time zone is written."""
    said = f'I know no time zone "{given}". ' if given else ""
    return (
        f"{said}Nothing was changed; yours is {now}.\n"
        "Write /zone Europe/Paris (or just the city) for yourself, or /zone NAME Europe/Paris for a patient."
    )


def zone_set(zone: str) -> str:
    """The clinician's own time zone."""
    return f"Your time zone is {zone}. The digest, and when alerts are repeated, follow it."


def patients_zone_set(alias: str, zone: str) -> str:
    """A patient's time zone."""
    return f"{alias}: time zone set to {zone}. Prompts come by that clock from now on."


def tell_zone(clinician: str, zone: str, morning: str, evening: str) -> str:
    """The patient is told of another time zone."""
    who = clinician[:1].upper() + clinician[1:]
    return f"{who} has set your time zone to {zone}. I write to you at {morning} and {evening} by that clock."


def digest_coming() -> str:
    """The digest is being made."""
    return "Here is where your patients stand today."


def digest_pdf() -> str:
    """The words beside the digest's PDF."""
    return "The digest as a PDF: an overview, and a page for each patient."


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
    return "I do not act on edited messages, so nothing was changed. Please write it again as a new message."


def forwarded_message() -> str:
    """A clinician forwarded a message."""
    return "I do not act on forwarded messages, and pass them on to nobody. To write to a patient: /message NAME TEXT."


def words_only() -> str:
    """A clinician sent something that is no text."""
    return "I can read only words, and passed this on to nobody. /help lists what I understand."

"""What a clinician reads (help, confirmations, mistakes, notices, caseload), and what the patient is told of it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from bot.conversation.wording.prompts import day_text
from bot.program.reasons import RULE_OF, Notice
from bot.program.terms import Decision, Phase, RedFlag, Step
from bot.program.values import DayDecision

PHASE: dict[Phase, str] = {
    Phase.INFLAMMATORY: "inflammatory",
    Phase.REPARATIVE: "reparative",
    Phase.REMODELLING: "remodelling",
}
PHASE_TOLD: dict[Phase, str] = {
    Phase.INFLAMMATORY: "the calming (inflammatory) phase",
    Phase.REPARATIVE: "the mending (reparative) phase. We go on in small steps",
    Phase.REMODELLING: "the strength (remodelling) phase. We build up in small steps",
}
DECISION: dict[Decision, str] = {
    Decision.STOP: "stop",
    Decision.UNLOAD: "unload",
    Decision.REST: "rest",
    Decision.RESUME: "resume",
    Decision.PROGRESS: "progress",
    Decision.HOLD: "hold",
}
NOTICE: dict[Notice, str] = {
    Notice.NOTHING_TO_LOWER: "A flare should lower a dose, but it is at its lowest already. Please look (rule 4.6).",
    Notice.IRRITABLE: "Two flares within 13 days: irritable for 28 days, increases at least 7 days apart (rule 4.8).",
    Notice.RELEASE: (
        "Mornings did not settle in 7 or more rest days: loading starts again from a new reference, "
        "with no increase for 14 days (rule 5.4)."
    ),
    Notice.LONG_GAP_RETURN: "Back after 56 days or more without a dose; doses start low (rule 5.6).",
    Notice.PAINFUL_DOSES: "Worst pain over 5 on three evenings with the walk done: walking was lowered (rule 5.8).",
    Notice.HIGH_REFERENCE: "No morning at 5 or below in the last 14 answered: walking does not go up (rule 6).",
    Notice.LONG_INFLAMMATORY: "In the inflammatory phase for more than 7 days; usual is 3 to 7 (rule 9).",
    Notice.NO_PROGRESS: "28 days without an increase, and below the walking target (rule 9).",
    Notice.SILENCE: "No answer for 3 mornings; from now on only the question is sent, no plan (rule 5.5).",
}
CANNOT_BE_REACHED = "CANNOT BE REACHED"
TAKEN_BACK = "taken back"
LOADING_STOPPED = "loading stopped (/allow ends it)"
COMMANDS: dict[str, tuple[tuple[str, str], ...]] = {
    "Look": (
        ("/caseload", "all your patients, a line each"),
        ("/patient NAME", "today, the reasons, the last week"),
        ("/week NAME", "the answers of 7 days"),
        ("/chart NAME", "pain, doses, flares as a picture"),
        ("/log NAME", "who did what"),
        ("/digest", "the weekly digest, now"),
    ),
    "Warning signs": (
        ("/seen [NAME]", "you have read the alert; it is not repeated"),
        ("/clear NAME [note]", "ends all open red flags"),
        ("/stop NAME", "no loading at all, until /allow"),
        ("/allow NAME", "ends a /stop"),
    ),
    "Change": (
        ("/pause NAME for 7 days", "no increases; doses stay. Or: until Friday"),
        ("/resume NAME", "ends a pause"),
        ("/dose NAME walk 10", "minutes, 0 to 120"),
        ("/dose NAME raises STEP 2x8", "heel raises"),
        ("/target NAME 30", "walking target in minutes, 3 to 120"),
        ("/interval NAME 5", "least days between increases, 4 to 7"),
        ("/phase NAME PHASE", "by hand; /phase NAME auto lifts it"),
        ("/undo NAME", "takes back the last change"),
    ),
    "Write": (
        ("/message NAME TEXT", "to the patient"),
        ("/note NAME TEXT", "for the record; the patient does not see it"),
    ),
    "Begin and end": (
        ("/invite NAME", "a new patient, or one who left"),
        ("/invite NAME walk 5 target 30 raises STEP 2x8", "with a start of your own"),
        ("/end NAME", "ends the programme"),
    ),
    "Colleagues": (
        ("/share NAME with COLLEAGUE", "or /share all with COLLEAGUE"),
        ("/unshare NAME", "or /unshare all"),
        ("/cover COLLEAGUE until DATE", "while you are away; alerts go to both"),
        ("/cover off", "ends it"),
    ),
    "Settings": (
        ("/zone Europe/Paris", "your time zone; /zone NAME Europe/Paris: a patient's"),
        ("/digesttime Monday 08:00", "when the digest comes"),
        ("/atonce on", "silence and long constant pain are told at once; /atonce off: in the digest"),
        ("/help", "this list"),
    ),
}
"""All that a clinician can write, under headings."""


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _names(aliases: Iterable[str]) -> str:
    return ", ".join(aliases) or "none yet"


def help_text() -> str:
    """All commands."""
    parts = [
        "\n".join([head.upper(), *(f"{command}: {what}" for command, what in commands)])
        for head, commands in COMMANDS.items()
    ]
    last = f"Dates: 2030-05-31, 31 May, Friday.\nSteps: {', '.join(Step)}.\nPhases: {', '.join(Phase)}."
    return "\n\n".join([*parts, last])


def not_understood() -> str:
    """No command: a clinician may think that it goes to the patient."""
    return (
        "I did not understand that. Nothing was changed, and it was passed on to nobody.\n"
        "To write to a patient: /message NAME TEXT. /caseload shows your patients, /help all commands."
    )


def not_now(alias: str, status: str) -> str:
    """It cannot be done in the patient's state."""
    why = {
        "invited": f"{alias} has not joined yet",
        "enrolling": f"{alias} has not finished enrolment yet",
        "ended": f"The programme of {alias} has ended",
        "left": f"{alias} has left",
    }.get(status, f"That cannot be done for {alias} now")
    after = {
        "ended": f" /undo {alias} takes the end back, if it was the last thing done.",
        "left": f" /invite {alias} lets them come back.",
    }.get(status, "")
    return f"{why}. Nothing was changed.{after}"


def not_enrolled(alias: str) -> str:
    """The patient has not finished enrolment."""
    return f"{alias} has not finished enrolment yet, so there is nothing to see or to change."


def which_patient(command: str, aliases: Iterable[str]) -> str:
    """A command came without a name."""
    ways = [written for part in COMMANDS.values() for written, _ in part if written.split()[0] == command]
    return f"Which patient? Write it like this: {' or '.join(ways) or f'{command} NAME'}\nYours: {_names(aliases)}."


def ambiguous_name(name: str, aliases: Iterable[str]) -> str:
    """More than one patient fits."""
    return f'"{name}" can be more than one patient. Nothing was changed. Which one: {_names(aliases)}?'


def unknown_name(name: str, aliases: Iterable[str]) -> str:
    """No patient fits."""
    return f'You have no patient called "{name}". Nothing was changed. Yours: {_names(aliases)}.'


def bad_date(given: str) -> str:
    """The end of a pause was not understood."""
    said = f'I could not use "{given}" as the end of the pause.' if given else "Until when?"
    return (
        f"{said} Nothing was changed.\n"
        "Write it like /pause NAME until Friday, until 5 June, until 2030-05-31, or /pause NAME for 2 weeks; "
        "at most a year ahead."
    )


def bad_dose(given: str) -> str:
    """A dose was not understood."""
    said = f'I could not use "{given}" as a dose.' if given else "Which dose?"
    return (
        f"{said} Nothing was changed.\n"
        "Write /dose NAME walk 10 (minutes, 0 to 120), or /dose NAME raises seated both 2x8 (up to 10x50).\n"
        f"Steps: {', '.join(Step)}."
    )


def bad_phase(given: str) -> str:
    """A phase was not understood."""
    said = f'There is no phase "{given}".' if given else "Which phase?"
    return f"{said} Nothing was changed. Write /phase NAME and then {', '.join(Phase)} or auto."


def bad_number(kind: str, problem: str) -> str:
    """A target or an interval is out of bounds. `problem`: what is allowed."""
    return f"That {kind} cannot be set: {problem}. Nothing was changed."


def empty_note(alias: str) -> str:
    """A note without text."""
    return f"The note was empty. Write it after the name: /note {alias} TEXT"


def nothing_to_clear(alias: str, *, stopped: bool) -> str:
    """No red flag is open."""
    after = f" Loading is stopped, though: /allow {alias} ends that." if stopped else ""
    return f"{alias} has no open red flag. Nothing was changed.{after}"


def was_not_paused(alias: str, *, stopped: bool) -> str:
    """There is no pause to end."""
    after = f" Loading is stopped, though: /allow {alias} ends that." if stopped else ""
    return f"{alias} is not paused. Nothing was changed.{after}"


def was_not_stopped(alias: str, *, flags_open: bool) -> str:
    """There is no stop to end."""
    after = f" A red flag is open, though: /clear {alias} ends that." if flags_open else ""
    return f"The loading of {alias} is not stopped by hand. Nothing was changed.{after}"


def stopped_already(alias: str) -> str:
    """There is a stop already."""
    return f"All loading of {alias} is stopped already. /allow {alias} ends it."


def paused(alias: str, until: date) -> str:
    """A pause was set: what it does and does not do, and which command stops all loading (rule 5.1)."""
    return (
        f"{alias} is paused to the end of {until:%A}, {until.isoformat()}.\n"
        "A pause blocks only increases: the doses in force are kept, and a flare still lowers them.\n"
        f"To stop all loading, write /stop {alias}. To end the pause early, write /resume {alias}."
    )


def resumed(alias: str) -> str:
    """A pause was ended."""
    return f"The pause of {alias} is over. Doses may go up again when the rules allow it."


def loading_stopped(alias: str) -> str:
    """All loading was stopped."""
    return f"All loading of {alias} is stopped, from now on. To end it, write /allow {alias}."


def loading_allowed(alias: str, *, flags_open: bool = False) -> str:
    """Loading was allowed again."""
    if flags_open:
        return f"The stop of {alias} is over, but a red flag is still open and stops all exercises. /clear {alias} ends that."
    return f"Loading is allowed again for {alias}. It starts on the next settled morning."


def loading_allowed_at_enrolment(alias: str) -> str:
    """Loading was allowed while the patient is still answering the first questions."""
    return f"{alias} may start. The programme begins once they have answered all the first questions."


def dose_set(alias: str, what: str, dose: str) -> str:
    """A dose was set."""
    return (
        f"{alias}: {what} set to {dose}. It is given from the next day that has a dose, "
        "and counts as a change: no increase for the interval."
    )


def phase_set(alias: str, phase: Phase) -> str:
    """A phase was set by hand."""
    if phase is Phase.INFLAMMATORY:
        return (
            f"{alias}: phase set to {PHASE[phase]}, from now on: no doses, today neither. It holds until constant pain "
            f"is reported (then the rules decide again) or you write /phase {alias} auto."
        )
    return (
        f"{alias}: phase set to {PHASE[phase]}, from the next decision. It holds until constant pain is reported "
        f"or you write /phase {alias} auto."
    )


def phase_lifted(alias: str) -> str:
    """The phase is decided by the rules again."""
    return f"{alias}: the phase follows the rules again, from the next decision."


def phase_not_set(alias: str) -> str:
    """There is no phase by hand to lift."""
    return f"{alias}: no phase is set by hand. Nothing was changed."


def newer_sign(alias: str, codes: Iterable[RedFlag]) -> str:
    """A warning sign came after the clinician wrote."""
    listed = ", ".join(str(code) for code in codes)
    return (
        f"NEW since you wrote: {listed}. That stays open, and all exercises stay stopped. "
        f"Please read the alert first; then /clear {alias} ends it."
    )


def flags_cleared(alias: str, codes: Iterable[RedFlag], *, stopped: bool = False, bare: bool = False) -> str:
    """Red flags were cleared. `bare`: what follows of it is said elsewhere."""
    cleared = f"{alias}: cleared {', '.join(str(code) for code in codes)}."
    if bare:
        return cleared
    if stopped:
        return f"{cleared} All loading is still stopped; /allow {alias} ends that."
    return f"{cleared} Today stays a stop day if it was decided so; exercises come back on a settled morning."


def flags_cleared_only(alias: str, codes: Iterable[RedFlag]) -> str:
    """Red flags of somebody without a programme were cleared."""
    return (
        f"{alias}: cleared {', '.join(str(code) for code in codes)}. No programme goes on, so the patient was not told."
    )


def noted(alias: str) -> str:
    """A note was kept."""
    return f"Noted for {alias}."


def threshold_set(alias: str, kind: str, value: int) -> str:
    """A target or an interval was set."""
    unit = "minutes of walking" if kind == "target" else "days between increases"
    return f"{alias}: {kind} set to {value} {unit}."


def notice(code: str) -> str:
    """A notice in a sentence."""
    return NOTICE[Notice(code)]


def caseload(lines: Iterable[str]) -> str:
    """All patients, a line each."""
    return "\n".join(lines) or "You have no patients yet. /invite NAME invites one."


def caseload_line(
    alias: str,
    week: int | None,
    phase: Phase | None,
    decision: Decision | None,
    codes: Iterable[RedFlag],
    *,
    start: date | None = None,
) -> str:
    """One patient in a line. `None`: the programme has not started; `start` is its first day."""
    if week is None or phase is None or decision is None:
        line = f"{alias}: not started" if start is None else f"{alias}: day 1 is {start.isoformat()}"
    else:
        line = f"{alias}: week {week}, {PHASE[phase]}, {DECISION[decision]}"
    return f"{line}{_flags(codes)}"


def _flags(codes: Iterable[RedFlag]) -> str:
    flags = ", ".join(str(code) for code in codes)
    return f"; RED FLAG: {flags}" if flags else ""


def caseload_enrolling(alias: str) -> str:
    """Somebody who is answering the first questions."""
    return f"{alias}: joined, has not answered all the first questions yet"


def caseload_over(alias: str, status: str, codes: Iterable[RedFlag] = ()) -> str:
    """A programme that is over."""
    line = f"{alias}: the programme has ended" if status == "ended" else f"{alias}: has left"
    return f"{line}{_flags(codes)}"


def patient_summary(line: str, decision: DayDecision, *, paused_until: date | None, loading_stopped: bool) -> str:
    """One patient's day: decision, plan, own numbers, reasons with their rules, and what was set by hand."""
    plan = decision.plan
    raises = f"{plan.step} {plan.sets}x{plan.reps}" if plan.has_raises else "none"
    lines = [
        line,
        f"Plan today: walking {plan.walk} min; heel raises {raises}",
        f"Doses in force: walking {decision.doses.walk} min; heel raises {decision.doses.raises}",
    ]
    if decision.answered:
        pain = "not given" if decision.first_step_pain is None else str(decision.first_step_pain)
        lines.append(f"First steps {pain}, reference {decision.reference}, pain at rest {decision.rest_pattern}")
    else:
        lines.append("No answer yet this morning")
    if decision.reasons:
        lines.append(
            "Reasons: " + "; ".join(f"{each.replace('_', ' ')} (rule {RULE_OF[each]})" for each in decision.reasons)
        )
    lines += [notice(each) for each in decision.notices]
    if paused_until is not None:
        lines.append(f"Paused to the end of {paused_until.isoformat()} (no increases)")
    if loading_stopped:
        lines.append("All loading is stopped by hand, or since a warning sign at enrolment")
    return "\n".join(lines)


# -- what the patient is told


def tell_paused(clinician: str, until: date) -> str:
    """The patient is told of a pause: by whom and until when."""
    return (
        f"{_capital(clinician)} has set a pause up to and including {day_text(until)}.\n"
        "Until then nothing goes up. Your plan goes on as it is, and I still ask you each day."
    )


def tell_resumed(clinician: str) -> str:
    """The patient is told that a pause is over."""
    return f"{_capital(clinician)} has ended the pause. From now on steps up can come again, when your foot allows it."


def tell_loading_stopped(clinician: str) -> str:
    """The patient is told that all loading is stopped: by whom and until when."""
    return (
        f"{_capital(clinician)} has stopped all exercises, from now on.\n"
        f"Please do no walks for training and no heel raises until {clinician} says so. I still ask you each day."
    )


def tell_loading_allowed(clinician: str, *, flags_open: bool = False) -> str:
    """The patient is told that loading is allowed again."""
    if flags_open:
        return (
            f"{_capital(clinician)} has ended the stop. But a warning sign is still open.\n"
            f"Please do no exercises until {clinician} has cleared it."
        )
    return (
        f"{_capital(clinician)} says that you can load the foot again.\n"
        "Wait for my message after your next morning answer. It tells you when to start, and with how much."
    )


def tell_may_start(clinician: str) -> str:
    """Somebody who named a warning sign at enrolment may start."""
    return f"{_capital(clinician)} says that you can start. Please answer my last question, so that we can go on."


def tell_cleared_but_stopped(clinician: str) -> str:
    """The warning sign is cleared, and loading is stopped all the same."""
    return (
        f"{_capital(clinician)} has looked at the warning sign and cleared it.\n"
        f"But all exercises are still stopped. Please wait until {clinician} says that you can go on."
    )


def tell_dose(clinician: str, what: str, dose: str) -> str:
    """The patient is told of a new dose: by whom and from when."""
    return (
        f"{_capital(clinician)} has set a new dose. {_capital(what)}: {dose}.\n"
        "It comes with your next plan that has exercises. Until then, keep to today's plan."
    )


def tell_phase(clinician: str, phase: Phase) -> str:
    """The patient is told of a phase set by hand."""
    put = f"{_capital(clinician)} has put your heel in {PHASE_TOLD[phase]}.\n"
    if phase is Phase.INFLAMMATORY:
        return (
            f"{put}From now on, today too, please do no walks for training and no heel raises.\n"
            f"That stays until {clinician} changes it. I still ask you each day."
        )
    return f"{put}Today's plan stays as it is. Your next morning message follows the new phase."


def tell_phase_lifted(clinician: str) -> str:
    """The patient is told that the phase follows the answers again."""
    return f"{_capital(clinician)} lets the phase follow your answers again. Your next morning message shows it."


def tell_threshold(clinician: str, kind: str, value: int) -> str:
    """The patient is told of a new walking target, or of the days between two steps up."""
    if kind == "target":
        return f"{_capital(clinician)} has set your walking target to {value} minutes. We go there in small steps."
    return f"{_capital(clinician)} has set {value} days as the least time between two steps up."

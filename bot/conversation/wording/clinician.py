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
    Phase.INFLAMMATORY: "the calming (inflammatory) phase. There is no load on the foot for now",
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
COMMANDS: tuple[tuple[str, str], ...] = (
    ("/caseload", "all your patients, a line each"),
    ("/patient NAME", "one patient: today's decision, plan, reasons, last week's answers"),
    ("/chart NAME", "first-step pain, doses, flares and rest days as a picture"),
    ("/log NAME", "who did what"),
    ("/invite NAME", "invites a patient; add walk 5 target 30 raises seated both 2x8 if you want"),
    ("/seen [NAME]", "you have seen an alert: it is not repeated"),
    ("/pause NAME until DATE", "no increases to the end of that date; the doses stay"),
    ("/resume NAME", "ends a pause"),
    ("/stop NAME", "stops all loading until /allow"),
    ("/allow NAME", "ends a /stop"),
    ("/dose NAME walk MINUTES", "sets the walking dose (0 to 120)"),
    ("/dose NAME raises STEP SETSxREPS", "sets the heel raises, e.g. /dose NAME raises seated both 2x8"),
    ("/phase NAME PHASE|auto", "sets the phase by hand; auto lifts it"),
    ("/clear NAME [note]", "clears all open red flags"),
    ("/note NAME TEXT", "keeps a note; the patient does not see it"),
    ("/message NAME TEXT", "passes a message on to the patient"),
    ("/target NAME MINUTES", "walking target (3 to 120)"),
    ("/interval NAME DAYS", "least days between increases (4 to 7)"),
    ("/end NAME", "ends the programme: no more prompts"),
    ("/undo NAME", "takes back the last thing done for the patient"),
    ("/digest", "the weekly digest, now; /digesttime Monday 08:00 sets when it comes"),
    ("/atonce on|off", "silence and long constant pain are told at once, or in the digest only"),
    ("/share NAME|all with COLLEAGUE", "a colleague sees and treats them too; /unshare NAME|all ends it"),
    ("/cover COLLEAGUE until DATE", "a colleague takes over; /cover off ends it"),
)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _names(aliases: Iterable[str]) -> str:
    return ", ".join(aliases) or "none yet"


def help_text() -> str:
    """All commands."""
    lines = "\n".join(f"{command} - {what}" for command, what in COMMANDS)
    return f"{lines}\nDates are written YYYY-MM-DD. Steps: {', '.join(Step)}."


def not_enrolled(alias: str) -> str:
    """The patient has not finished enrolment."""
    return f"{alias} has not finished enrolment yet, so there is nothing to change."


def which_patient(aliases: Iterable[str]) -> str:
    """A command came without a name."""
    return f"Which patient? Write the name after the command. Yours: {_names(aliases)}."


def ambiguous_name(name: str, aliases: Iterable[str]) -> str:
    """More than one patient fits."""
    return f'"{name}" fits more than one patient: {_names(aliases)}. Nothing was changed; please write the full name.'


def unknown_name(name: str, aliases: Iterable[str]) -> str:
    """No patient fits."""
    return f'You have no patient called "{name}". Nothing was changed. Yours: {_names(aliases)}.'


def bad_date(given: str) -> str:
    """The end of a pause was not understood."""
    return (
        f'I could not use "{given}" as the end of the pause. Nothing was changed.\n'
        "Write it like /pause NAME until 2030-05-31; today or later, at most a year ahead."
    )


def bad_dose(given: str) -> str:
    """A dose was not understood."""
    return (
        f'I could not use "{given}" as a dose. Nothing was changed.\n'
        "Write /dose NAME walk MINUTES (0 to 120), or /dose NAME raises STEP SETSxREPS (up to 10x50), "
        f"e.g. seated both 2x8.\nSteps: {', '.join(Step)}."
    )


def bad_phase(given: str) -> str:
    """A phase was not understood."""
    return f'There is no phase "{given}". Nothing was changed. Write {", ".join(Phase)} or auto.'


def bad_number(kind: str, problem: str) -> str:
    """A target or an interval is out of bounds. `problem`: what is allowed."""
    return f"That {kind} cannot be set: {problem}. Nothing was changed."


def empty_note(alias: str) -> str:
    """A note without text."""
    return f"The note was empty. Write it after the name: /note {alias} TEXT"


def nothing_to_clear(alias: str) -> str:
    """No red flag is open."""
    return f"{alias} has no open red flag."


def was_not_paused(alias: str) -> str:
    """There is no pause to end."""
    return f"{alias} is not paused. (To end a /stop, write /allow {alias}.)"


def paused(alias: str, until: date) -> str:
    """A pause was set: what it does and does not do, and which command stops all loading (rule 5.1)."""
    return (
        f"{alias} is paused to the end of {until.isoformat()}.\n"
        "A pause blocks only increases: the doses in force are kept, and a flare still lowers them.\n"
        f"To stop all loading, write /stop {alias}. To end the pause early, write /resume {alias}."
    )


def resumed(alias: str) -> str:
    """A pause was ended."""
    return f"The pause of {alias} is over. Doses may go up again when the rules allow it."


def loading_stopped(alias: str) -> str:
    """All loading was stopped."""
    return f"All loading of {alias} is stopped, from now on. To end it, write /allow {alias}."


def loading_allowed(alias: str) -> str:
    """Loading was allowed again."""
    return (
        f"Loading is allowed again for {alias}. It starts on the next settled morning. "
        "Open red flags, if any, still stop it."
    )


def dose_set(alias: str, what: str, dose: str) -> str:
    """A dose was set."""
    return (
        f"{alias}: {what} set to {dose}. It is given from the next day that has a dose, "
        "and counts as a change: no increase for the interval."
    )


def phase_set(alias: str, phase: Phase) -> str:
    """A phase was set by hand."""
    return (
        f"{alias}: phase set to {PHASE[phase]}, from the next decision. It holds until constant pain is reported "
        f"or you write /phase {alias} auto."
    )


def phase_lifted(alias: str) -> str:
    """The phase is decided by the rules again."""
    return f"{alias}: the phase follows the rules again."


def flags_cleared(alias: str, codes: Iterable[RedFlag]) -> str:
    """Red flags were cleared."""
    return (
        f"{alias}: cleared {', '.join(str(code) for code in codes)}. Today stays a stop day if it was decided so; "
        "exercises come back on a settled morning."
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
    return "\n".join(lines) or "You have no patients yet."


def caseload_line(
    alias: str,
    week: int | None,
    phase: Phase | None,
    decision: Decision | None,
    codes: Iterable[RedFlag],
) -> str:
    """One patient in a line. `None`: the programme has not started."""
    if week is None or phase is None or decision is None:
        return f"{alias}: not started"
    line = f"{alias}: week {week}, {PHASE[phase]}, {DECISION[decision]}"
    flags = ", ".join(str(code) for code in codes)
    return f"{line}; RED FLAG: {flags}" if flags else line


def caseload_over(alias: str, status: str) -> str:
    """A programme that is over."""
    return f"{alias}: the programme has ended" if status == "ended" else f"{alias}: has left"


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
        lines.append("All loading stopped by you")
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


def tell_loading_allowed(clinician: str) -> str:
    """The patient is told that loading is allowed again."""
    return (
        f"{_capital(clinician)} says that you can load the foot again.\n"
        "Wait for my message after your next morning answer. It tells you when to start, and with how much."
    )


def tell_dose(clinician: str, what: str, dose: str) -> str:
    """The patient is told of a new dose: by whom and from when."""
    return (
        f"{_capital(clinician)} has set a new dose. {_capital(what)}: {dose}.\n"
        "It comes with your next plan that has exercises. Until then, keep to today's plan."
    )


def tell_phase(clinician: str, phase: Phase) -> str:
    """The patient is told of a phase set by hand."""
    return (
        f"{_capital(clinician)} has put your heel in {PHASE_TOLD[phase]}.\n"
        f"That stays until {clinician} changes it, or until your pain is there all the time. "
        "Your next morning message follows it."
    )


def tell_phase_lifted(clinician: str) -> str:
    """The patient is told that the phase follows the answers again."""
    return f"{_capital(clinician)} lets the phase follow your answers again. Your next morning message shows it."


def tell_threshold(clinician: str, kind: str, value: int) -> str:
    """The patient is told of a new walking target, or of the days between two steps up."""
    if kind == "target":
        return f"{_capital(clinician)} has set your walking target to {value} minutes. We go there in small steps."
    return f"{_capital(clinician)} has set {value} days as the least time between two steps up."

"""Replies to warning signs, by the most urgent of them (rule 10)."""

from __future__ import annotations

from collections.abc import Iterable

from bot.program.flags import URGENCY_OF, most_urgent
from bot.program.terms import RedFlag, Urgency

NOBODY = "your clinician"
"""What stands in for a name where no clinician is known: then nobody is told, and none is said to be."""

SIGN: dict[RedFlag, str] = {
    RedFlag.CHEST_OR_BREATHING: "chest pain, trouble with your breath or coughing up blood",
    RedFlag.BLADDER_BOWEL_SADDLE: "new bladder or bowel trouble, or being numb between the legs",
    RedFlag.SELF_HARM: "thoughts of harming yourself",
    RedFlag.CLOT_SIGNS: "a calf or leg that is swollen, hot, red or newly sore",
    RedFlag.INFECTION_SIGNS: "fever, or a hot, red and swollen foot",
    RedFlag.SUDDEN_POP: "a pop, snap or tear in the heel, arch or calf",
    RedFlag.CANNOT_BEAR_WEIGHT: "a foot that cannot take your weight",
    RedFlag.NEW_INJURY: "a fall, twist or knock to the foot or leg",
    RedFlag.CIRCULATION_SIGNS: "a cold foot, or white, blue or grey toes",
    RedFlag.SKIN_BREAKDOWN: "an open sore or wound on the foot",
    RedFlag.NERVE_SIGNS: "numbness, tingling, burning or new weakness",
    RedFlag.NIGHT_PAIN: "pain that wakes you or lasts all night",
    RedFlag.SYSTEMIC_SIGNS: "weight loss, night sweats or feeling ill",
    RedFlag.JOINT_SIGNS: "signs in other joints, or long morning stiffness",
    RedFlag.SEVERE_PAIN: "very strong pain",
}
_EXTRA: dict[RedFlag, str] = {
    RedFlag.CLOT_SIGNS: "If you get chest pain or short of breath, call your local emergency number at once.",
    RedFlag.SUDDEN_POP: "Keep your weight off the foot until then.",
    RedFlag.CANNOT_BEAR_WEIGHT: "Keep your weight off the foot until then.",
    RedFlag.NEW_INJURY: "Keep your weight off the foot until then.",
}
URGENCY: dict[Urgency, str] = {
    Urgency.EMERGENCY: "emergency",
    Urgency.SAME_DAY: "same day",
    Urgency.SOON: "soon",
}
"""The urgency as a clinician reads it."""


def _ordered(codes: Iterable[RedFlag]) -> list[RedFlag]:
    """The codes, each once, most urgent first."""
    urgencies = tuple(Urgency)
    return sorted(
        dict.fromkeys(codes), key=lambda code: (urgencies.index(URGENCY_OF[code]), tuple(RedFlag).index(code))
    )


def _signs(codes: list[RedFlag]) -> str:
    if len(codes) == 1:
        return f"You told me about {SIGN[codes[0]]}."
    # One line each keeps a long list readable.
    return "You told me about these signs:\n" + "\n".join(
        f"- {SIGN[code][0].upper() + SIGN[code][1:]}." for code in codes
    )


def flag_reply(codes: Iterable[RedFlag], *, clinician: str) -> str:
    """The reply when warning signs are found: what to do, by the most urgent. Raises `ValueError` without a code."""
    signs = _ordered(codes)
    urgency = most_urgent(signs)
    lines: list[str] = []
    if urgency is Urgency.EMERGENCY:
        lines.append("Stop. Please call your local emergency number now.")
        if RedFlag.SELF_HARM in signs:
            lines.append("I am glad you told me. Your local crisis line can help too, at any hour.")
            lines.append("If you can, stay with someone you trust.")
        lines += [
            _signs(signs),
            "This bot is not an emergency service. No one may read this in time to help.",
            "Do no exercises.",
        ]
    elif urgency is Urgency.SAME_DAY:
        lines += [
            "Please stop all exercises.",
            _signs(signs),
            f"Contact {clinician} or urgent care today. It needs a look today, even if it has eased.",
            "If it gets worse fast, call your local emergency number. This bot is not an emergency service.",
        ]
    elif urgency is Urgency.SOON:
        lines += [
            "Please pause the exercises.",
            _signs(signs),
            f"Contact {clinician} before the next session. It needs to be checked first."
            if signs != [RedFlag.SEVERE_PAIN]
            else f"Contact {clinician} before the next session. If you can hardly bear it, go to urgent care today.",
            "If it gets worse fast, do not wait. Call urgent care or your local emergency number.",
        ]
    else:
        raise ValueError("a reply to warning signs needs at least one code")
    lines += dict.fromkeys(_EXTRA[code] for code in signs if code in _EXTRA)
    if clinician != NOBODY:
        lines.append(f"I pass this on to {clinician} now, but do not wait for an answer from me.")
    return "\n".join(lines)


def still_open(codes: Iterable[RedFlag], clinician: str) -> str:
    """What is said instead of a plan while a flag is open. Raises `ValueError` without a code."""
    signs = _ordered(codes)
    urgency = most_urgent(signs)
    who = clinician[0].upper() + clinician[1:]
    lines = ["No exercises for now."]
    lines.append(_signs(signs))
    if urgency is Urgency.EMERGENCY:
        lines.append("If you have had no help yet, call your local emergency number now.")
        if RedFlag.SELF_HARM in signs:
            lines.append("Your local crisis line is there for you too, at any hour.")
        lines.append("This bot is not an emergency service.")
    elif urgency is Urgency.SAME_DAY:
        lines.append(f"If no one has looked at it yet, contact {clinician} or urgent care today.")
    elif urgency is Urgency.SOON:
        lines.append(f"If you have not yet, contact {clinician} before the next session.")
    else:
        raise ValueError("an open warning sign needs at least one code")
    lines.append(f"{who} decides when you can go on.")
    return "\n".join(lines)


def flag_cleared(clinician: str) -> str:
    """The patient is told that the clinician cleared the flags."""
    who = clinician[0].upper() + clinician[1:]
    return (
        f"{who} has looked at the warning sign and cleared it.\n"
        "No exercises just yet. We go on from your next morning answer.\n"
        "If the sign comes back, tell me at once."
    )


def clinician_alert(alias: str, codes: Iterable[RedFlag], words: str, told: str) -> str:
    """The clinician is told at once: which signs, the patient's own words, and what the patient was told."""
    signs = _ordered(codes)
    urgency = most_urgent(signs)
    if urgency is None:
        raise ValueError("an alert needs at least one code")
    listed = "\n".join(f"- {code} ({URGENCY[URGENCY_OF[code]]}): {SIGN[code]}" for code in signs)
    return (
        f"WARNING SIGN ({URGENCY[urgency]}): {alias}\n{listed}\n"
        f'Their words: "{words}"\n'
        f"All exercises are stopped until you write /clear {alias}\n\n"
        f"The patient was told:\n{told}"
    )

"""What strangers read, what is said to anything but words, and what patients can do beside the check-ins."""

from __future__ import annotations


def stranger() -> str:
    """The only thing that a stranger hears, whatever they write or try."""
    return (
        "This bot works by personal invitation only. Open the link that you were given. "
        "If it does not work, ask for a new one.\n"
        "This is not an emergency service. In an emergency, call your local emergency number."
    )


def old_button() -> str:
    """A button of a question that is over."""
    return "That question is over. Nothing was changed. You can write it in words."


def invitation_here() -> str:
    """A clinician opened an invitation."""
    return (
        "You have joined already. If this invitation is for a patient, it still works: "
        "hand it over, and do not open it yourself."
    )


def already_joined() -> str:
    """Somebody who has joined opened another invitation."""
    return "You have joined already. There is nothing more to do."


CANNOT_READ: dict[str, str] = {
    "voice": "I cannot listen to voice messages yet. Please write it in a few words.",
    "photo": "I cannot see pictures. If something on the foot looks wrong, show it to your clinician.",
    "sticker": "I cannot read stickers. Please write a number or a few words.",
    "document": "I cannot open files. Please write it in a few words.",
    "location": "I do not need to know where you are. Please write how the heel is.",
    "contact": "I cannot use contacts. Please write how the heel is.",
}


def cannot_read(kind: str) -> str:
    """Something that is no words."""
    return CANNOT_READ.get(kind, "I can read only words and numbers. Please write it in a few words.")


def cannot_read_urgent() -> str:
    """Beside it: what cannot wait."""
    return "If it is urgent, do not wait for me: call your clinician, or your local emergency number."


def forwarded() -> str:
    """A forwarded message."""
    return "That was passed on from somewhere else, so I do not count it. Please tell me in your own words how your heel is."


def edit_not_used() -> str:
    """An edited message of long ago, or during enrolment."""
    return "I saw that you changed an older message. I cannot use that any more. Please write it as a new message."


def programme_over(clinician: str) -> str:
    """A patient whose programme ended writes."""
    return (
        f"Your programme here has ended, so I give no more plans. Please contact {clinician}.\n"
        'Or write "message" and then your words, and I pass them on. "my data" and "erase" still work.\n'
        "In an emergency, call your local emergency number."
    )


def over_beside_a_sign() -> str:
    """Beside the reply to a warning sign, once the programme has ended."""
    return "Your programme here has ended, so I do not ask again how it goes."


# -- times


def times_set(morning: str, evening: str) -> str:
    """New times of the prompts."""
    return f"Done. I will write at {morning} and at {evening}."


def times_how(morning: str, evening: str) -> str:
    """How times are written."""
    return (
        f"I write at {morning} and at {evening} now. To change it, write both times, like this: times 07:30 20:00.\n"
        "The morning can be from 05:00 to 11:30, the evening from 15:00 to 22:00."
    )


def zone_set(zone: str, morning: str, evening: str) -> str:
    """A new time zone."""
    return f"Done. Your time zone is {zone} now. I will write at {morning} and at {evening} there."


def zone_how(zone: str) -> str:
    """How a time zone is written."""
    return f"Your time zone is {zone}. To change it, write area/city, like this: zone Europe/Paris."


# -- a message to the clinician


def message_passed_on(clinician: str) -> str:
    """A message was passed on."""
    return (
        f"I passed that on to {clinician}. It may take some days until it is read.\n"
        "If it cannot wait, call. In an emergency, call your local emergency number."
    )


def message_how(clinician: str) -> str:
    """How a message to the clinician is written."""
    return f"To write to {clinician}, put your words after it, like this: message I am away next week."


# -- progress


def progress(clinician: str) -> str:
    """The words beside a patient's chart."""
    return f"This is how your mornings went. Ups and downs are normal. {clinician[:1].upper() + clinician[1:]} can tell you more."


def progress_too_early() -> str:
    """There is nothing to draw yet."""
    return "There is nothing to show yet. After a few mornings I can draw it for you."


# -- data, leaving, erasing


def export_sent() -> str:
    """The words beside the data."""
    return "This is all that I keep about you: your answers, your plans and the messages."


def ask_leave(clinician: str) -> str:
    """Before leaving."""
    return (
        "Do you want to leave? I would stop writing to you, and you would get no more plans.\n"
        f"Your record stays with {clinician}. To have it deleted too, write: erase.\n"
        "Please answer yes or no."
    )


def ask_erase(clinician: str) -> str:
    """Before erasing."""
    return (
        "Do you want me to delete all that I keep about you, and to leave? This cannot be undone.\n"
        f"{clinician[:1].upper() + clinician[1:]} is told that you left, and may keep notes of their own.\n"
        "To have a copy first, answer no and write: my data.\n"
        "Please answer yes or no."
    )


def confirm_over() -> str:
    """A yes that came long after the question whether to leave or to erase."""
    return (
        "That question is too long ago, so I changed nothing. "
        'If you want to leave, write "leave". To delete all your data, write "erase".'
    )


def stays() -> str:
    """The patient stays."""
    return "Good. Nothing was changed."


def left(clinician: str) -> str:
    """The patient has left."""
    return (
        f"You have left. I will not write to you again. {clinician[:1].upper() + clinician[1:]} knows.\n"
        f"If the heel gets worse, contact {clinician}. In an emergency, call your local emergency number."
    )


def erased() -> str:
    """The patient is erased."""
    return (
        "All that I kept about you is deleted. You can delete this chat as well.\n"
        "In an emergency, call your local emergency number."
    )


def failed() -> str:
    """A message could not be handled because of a fault in the program."""
    return (
        "Sorry, something went wrong on my side. Your message is kept, but I could not work with it.\n"
        "Please try again in other words. If it is urgent, do not wait for me: call your clinician, "
        "or your local emergency number."
    )

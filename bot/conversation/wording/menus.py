"""The menus that a chat shows beside its keyboard, by role. A name is all that is typed; what it does stands beside it."""

from __future__ import annotations

MENUS: dict[str, tuple[tuple[str, str], ...]] = {
    "patient": (
        ("plan", "what to do today"),
        ("progress", "how your mornings went"),
        ("undo", "take back your last report"),
        ("times", "when I write to you"),
        ("holiday", "no prompts for some days"),
        ("message", "write to your clinician"),
        ("export", "a copy of your data"),
        ("leave", "leave the programme"),
        ("erase", "delete all your data"),
        ("help", "what you can say"),
    ),
    "clinician": (
        ("caseload", "all your patients"),
        ("seen", "you have seen an alert"),
        ("invite", "invite a patient: /invite NAME"),
        ("digest", "where everybody stands, now"),
        ("patient", "one patient"),
        ("chart", "one patient's chart"),
        ("log", "who did what"),
        ("pause", "no increases: /pause NAME for 7 days"),
        ("resume", "end a pause"),
        ("stop", "stop all loading"),
        ("allow", "allow loading again"),
        ("dose", "set a dose: /dose NAME walk 10"),
        ("clear", "clear the red flags"),
        ("message", "write to a patient"),
        ("undo", "take back the last action"),
        ("help", "all commands"),
    ),
}

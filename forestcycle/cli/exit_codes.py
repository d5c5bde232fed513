"""How a command ends: codes that scripts may rely on."""

DONE, OWN_FAULT, BAD_INPUT, INTERRUPTED = 0, 1, 2, 130

MEANINGS = {
    DONE: "done",
    OWN_FAULT: "a fault of forestcycle itself; please report it",
    BAD_INPUT: "input, files or workers cannot be used; each line says what, where and the remedy",
    INTERRUPTED: "interrupted; what was found by then has been written",
}


def exit_codes_in_words() -> str:
    """One line per code, for the help text."""
    lines = [f"  {code:<4} {meaning}" for code, meaning in MEANINGS.items()]
    return "\n".join(["\b", "Exit codes:", *lines])

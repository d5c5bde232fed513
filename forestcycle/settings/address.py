"""Addresses of databases, and how none of them ever shows a password."""

import re

STARTS = ("postgresql://", "postgres://")
USER_PASSWORD = re.compile(r"(://[^:/@\s]*):.*@", re.DOTALL)
QUERY_PASSWORD = re.compile(r"((?:ssl)?password=)[^&\s'\"]+", re.IGNORECASE)
HIDDEN = "***"


def is_address(text: str) -> bool:
    """Whether a text names a database rather than a file.

    Parameters
    ----------
    text : str

    Returns
    -------
    bool
    """
    return text.lower().startswith(STARTS)


def without_password(text: str) -> str:
    """Hide any password that an address in a text carries.

    Parameters
    ----------
    text : str
        An address, or a line that quotes one.

    Returns
    -------
    str
        The same text where there is none.
    """
    return QUERY_PASSWORD.sub(rf"\1{HIDDEN}", USER_PASSWORD.sub(rf"\1:{HIDDEN}@", text))


def carries_password(text: str) -> bool:
    """Whether an address carries a password, which settings must not keep.

    Parameters
    ----------
    text : str
        An address, or the path of a file, which carries none.

    Returns
    -------
    bool
    """
    return is_address(text) and without_password(text) != text


def refuse_password(text: str) -> str:
    """Let an address pass that carries no password.

    Parameters
    ----------
    text : str
        An address, or the path of a file.

    Returns
    -------
    str
        As it is.

    Raises
    ------
    ValueError
        If the address carries a password.
    """
    if carries_password(text):
        raise ValueError(
            "a password does not belong in the settings, which go into every plan; give it in "
            "the environment variable PGPASSWORD or in ~/.pgpass (and write '@' elsewhere as %40)"
        )
    return text

"""Labels of samples: short codes that are read aloud and written by hand, with a check character.

The check character is that of ISO 7064, MOD 37,36: it finds every single wrong character and nearly every swap of two
neighbours. Signs that look alike (0 O, 1 I L) are not used.
"""

import secrets

from stdnum.iso7064 import mod_37_36

SIGNS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
LENGTH = 7


def new_label() -> str:
    """A random label such as ``4H7-KQ2M-X``: 31^7, some 27 thousand million."""
    while True:
        body = "".join(secrets.choice(SIGNS) for _ in range(LENGTH))
        check = mod_37_36.calc_check_digit(body)
        if check in SIGNS:
            return shown(body + check)


def shown(label: str) -> str:
    """A label in groups that are easy to read."""
    return f"{label[:3]}-{label[3:7]}-{label[7:]}"


def read(text: str) -> str | None:
    """A label however it was typed; None where signs are missing or wrong."""
    plain = "".join(sign for sign in text.upper() if sign not in "- \t")
    if len(plain) != LENGTH + 1 or not set(plain) <= set(SIGNS) or not mod_37_36.is_valid(plain):
        return None
    return shown(plain)

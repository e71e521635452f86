"""Who is asking, and what that caller may see and do."""

from typing import NamedTuple

LOCAL = "local"
"""The one organization of open local mode."""

PROGRAMME = "programme"
"""The kind of organization that sees all others."""

ROLES = ("submitter", "agent", "reviewer", "table_signer", "administrator")


class Caller(NamedTuple):
    """One request's caller.

    Attributes:
        organization: whose work it is; everything written is written under it.
        kind: county_office, laboratory, app, programme; ``local`` in open local mode.
        roles: what the key may do.
        actor: who stands in the trail: the key's id, or a user's; ``local`` in open local mode.
        sandbox: a key for trying out, whose records never count.
        publishable: a key in a web page, which may only submit.
    """

    organization: str
    kind: str
    roles: frozenset[str]
    actor: str
    sandbox: bool = False
    publishable: bool = False

    @property
    def sees_all(self) -> bool:
        """Whether records of every organization are in sight."""
        return self.kind in (PROGRAMME, LOCAL)


OPEN_CALLER = Caller(LOCAL, LOCAL, frozenset(ROLES), LOCAL)
"""Who asks in open local mode: somebody at this machine."""

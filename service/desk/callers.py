"""Who is asking, and what that caller may see."""

from typing import NamedTuple

from service.store.records import Sight

LOCAL = "local"
"""The one organization of open local mode."""

PROGRAMME = "programme"
"""The kind of organization that sees all others."""

LABORATORY = "laboratory"

ROLES = ("submitter", "agent", "reviewer", "table_signer", "administrator")
SUBMITTER = frozenset(("submitter",))

SANDBOX = "~sandbox"
"""Ends the name under which a sandbox key writes: a desk of its own, with its own numbers, that never counts."""


class Caller(NamedTuple):
    """One request's caller.

    Attributes:
        organization: whose work it is; everything written is written under it.
        kind: county_office, laboratory, app, programme; ``local`` in open local mode.
        roles: what the key may do.
        actor: who stands in the trail: the key's id, or a user's; ``local`` in open local mode.
        sandbox: a key for trying out, whose records never count; its ``organization`` ends in ``~sandbox``.
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
        """Whether records of every organization are in sight: the programme's people, not what only submits for it."""
        return self.kind == LOCAL or (self.kind == PROGRAMME and not self.sandbox and not self.roles <= SUBMITTER)

    @property
    def sight(self) -> Sight:
        """Which records the store may hand out to this caller."""
        return Sight(self.organization, self.sees_all, self.kind == LABORATORY)


OPEN_CALLER = Caller(LOCAL, LOCAL, frozenset(ROLES), LOCAL)
"""Who asks in open local mode: somebody at this machine."""

ANYONE = Caller("", "", frozenset(), "")
"""Who reads what is open to all, without a key."""

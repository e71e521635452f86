"""Scopes: what a request does, and which roles may do it. The one table of rights; what it does not name is refused."""

from collections.abc import Mapping

from service.contract.problem import Problem, ProblemError
from service.desk.callers import LOCAL, PROGRAMME, ROLES, Caller

OPEN_SCOPES: Mapping[str, str] = {
    "about": "The service about itself.",
    "read_library": "Crops, tables, words and sources.",
    "open_link": "What an unguessable address shows to whoever has it.",
}
"""Open to anyone, also without a key; a key that comes along is not looked at."""

ROLES_OF: Mapping[str, frozenset[str]] = {
    "interpret": frozenset(("submitter", "agent", "reviewer", "administrator")),
    "calculate": frozenset(ROLES),
    "read_reports": frozenset(("submitter", "agent", "reviewer", "administrator")),
    "submit_samples": frozenset(("submitter", "agent")),
    "manage_samples": frozenset(("agent", "administrator")),
    "read_samples": frozenset(("submitter", "agent", "reviewer", "administrator")),
    "join_results": frozenset(("submitter", "agent", "reviewer", "administrator")),
    "review": frozenset(("reviewer",)),
    "switch_classes": frozenset(("reviewer", "administrator")),
    "approve_class": frozenset(("reviewer",)),
    "sign_tables": frozenset(("table_signer",)),
    "recall": frozenset(("reviewer", "administrator")),
    "read_trail": frozenset(("administrator",)),
    "manage_keys": frozenset(("administrator",)),
    "manage_office": frozenset(("administrator",)),
    "manage_organizations": frozenset(("administrator",)),
    "statistics": frozenset(("agent", "reviewer", "administrator")),
    "privacy": frozenset(("administrator",)),
    "share_links": frozenset(("agent", "reviewer")),
    "void": frozenset(("agent", "reviewer")),
}
"""Whose records a scope reaches is another question: those in the caller's sight."""

PUBLISHABLE = frozenset(("interpret", "submit_samples"))
"""All that a key in a web page may do, whatever its roles."""

PROGRAMME_ONLY = frozenset(("manage_organizations",))

NEVER_SANDBOX = frozenset(("manage_keys", "manage_organizations", "sign_tables"))
"""What would reach beyond the sandbox."""

NEVER_LOCAL = frozenset(("manage_keys", "manage_organizations"))
"""The first key is made at the command line, by whoever may read the database anyway."""


def allowed(caller: Caller, scope: str) -> bool:
    """Whether a caller may do what a scope names; an unknown scope is nobody's."""
    if scope in OPEN_SCOPES:
        return True
    if caller.publishable and scope not in PUBLISHABLE:
        return False
    if caller.sandbox and scope in NEVER_SANDBOX:
        return False
    if caller.kind == LOCAL and scope in NEVER_LOCAL:
        return False
    if scope in PROGRAMME_ONLY and caller.kind != PROGRAMME:
        return False
    return not caller.roles.isdisjoint(ROLES_OF.get(scope, frozenset()))


def demand(caller: Caller, scope: str) -> None:
    """Raises ProblemError 403, naming the scope and who holds it (RFC 6750, section 3.1)."""
    if allowed(caller, scope):
        return
    who = ", ".join(sorted(ROLES_OF.get(scope, ()))) or "nobody"
    detail = f"This needs the scope {scope}, which roles hold: {who}.{_but(caller, scope)}"
    challenge = f'Bearer realm="saltbush", error="insufficient_scope", scope="{scope}"'
    headers = {"WWW-Authenticate": challenge}
    raise ProblemError(Problem("insufficient-scope", detail, extra={"scope": scope}, headers=headers))


def _but(caller: Caller, scope: str) -> str:
    if caller.kind == LOCAL:
        return " Without any key it is done at the command line: saltbush keys."
    if caller.publishable:
        return " A publishable key may only submit."
    if caller.sandbox and scope in NEVER_SANDBOX:
        return " A sandbox key never holds it."
    return " Only in the state programme." if scope in PROGRAMME_ONLY else ""

"""How much may be searched for one plan: in nodes, not seconds, so that every machine finds the same plan."""

NODES = 150
"""Nodes of all searches for one plan: some tenths of a second with thirty materials or twelve kinds of bags."""
LEAST = 10
"""What a search counts as at least: its first node costs as much as several of the others."""


class Budget:
    """What is left of the nodes, and whether every search so far was carried to its end."""

    __slots__ = ("left", "proven")

    def __init__(self, nodes: int = NODES) -> None:
        self.left = nodes
        self.proven = True

    def share(self) -> int:
        """What one search may use: half of what is left, so that something stays for the goals after it."""
        return max(self.left // 2, LEAST)

    def spend(self, nodes: int, whole: bool, settled: bool) -> None:
        """Told after each search: nodes it took, whether it had whole numbers in it, whether it came to its end."""
        if whole:
            self.left -= max(nodes, LEAST)
        self.proven = self.proven and settled

"""Second floor: the pages that Saltbush ships for people. They use the public interface like any other front end."""

from service.pages.site import blueprint

__all__ = ["blueprint"]

"""How a case is put to the service: through the public interface, nothing kept."""

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import pytest

from service.app import create_app
from service.commands.serve import prepare
from service.settings import Settings


@pytest.fixture(scope="session")
def post(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Any]:
    """Posts a submission document and returns the reply."""
    folder: Path = tmp_path_factory.mktemp("data")
    settings = Settings(data=folder)
    prepare(settings)
    client = create_app(settings).test_client()

    def send(document: dict[str, Any], store: bool = False) -> Any:
        return client.post(f"/v1/interpretations?store={str(store).lower()}", json=document)

    return send


@pytest.fixture(scope="session")
def ask(post: Callable[..., Any]) -> Callable[..., dict[str, Any]]:
    """Builds an ordinary submission around some results, posts it and returns the answer."""

    def send(
        results: Iterable[dict[str, Any]],
        crop: str | None,
        stage: str | None = None,
        area: tuple[float, str] | None = None,
        depth: tuple[float, float] | None = None,
        sample: dict[str, Any] | None = None,
        site: dict[str, Any] | None = None,
        target: dict[str, Any] | None = None,
        options: dict[str, Any] | None = None,
    ) -> dict[str, Any]:
        layer = {"depth": {"top": depth[0], "bottom": depth[1], "unit": "in"}} if depth else {}
        document = {
            "sample": {"cores": 12, "container": "plastic", "tool": "stainless_steel", **layer, **(sample or {})},
            "results": list(results),
            "target": {"crop": crop, "stage": stage, **(target or {})},
            "site": {"region": "US-XX", **(site or {})},
            "options": {"as_of": "2026-04-20", "units": "us_garden", "language": "en", **(options or {})},
        }
        if area:
            document["target"]["area"] = {"value": area[0], "unit": area[1]}
        reply = post(document)
        assert reply.status_code == 200, reply.get_data(as_text=True)
        answer: dict[str, Any] = reply.get_json()
        return answer

    return send

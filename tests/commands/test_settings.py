"""Settings from the environment, and an import that loads nothing heavy."""

import os
import subprocess
import sys
from importlib.metadata import EntryPoint
from pathlib import Path

import pytest

from service import settings
from service.settings import SettingError, Settings, shipped

ROOT = Path(__file__).resolve().parents[2]


def test_defaults_are_those_of_the_contract():
    found = Settings.from_environment({})
    assert (found.data, found.host, found.port, found.workers) == (Path("saltbush-data"), "127.0.0.1", 8080, 2)
    assert found.database_url == f"sqlite:///{Path('saltbush-data/saltbush.db').absolute()}"
    assert found.crop_folders[0] == ROOT / "crops"


def test_every_setting_is_read():
    found = Settings.from_environment(
        {
            "SALTBUSH_DATA": "/d",
            "SALTBUSH_DATABASE": "sqlite:////x.db",
            "SALTBUSH_HOST": "::1",
            "SALTBUSH_PORT": "81",
            "SALTBUSH_WORKERS": "3",
            "SALTBUSH_CROP_FOLDERS": os.pathsep.join(("/a", "/b")),
        }
    )
    assert found == Settings(Path("/d"), "sqlite:////x.db", "::1", 81, 3, (shipped("crops"), Path("/a"), Path("/b")))
    assert found.database_url == "sqlite:////x.db"


@pytest.mark.parametrize("value", ["0", "-1", "65536", "8080.0", "٨", "eighty"])
def test_a_port_that_is_none_is_named(value):
    with pytest.raises(SettingError, match="SALTBUSH_PORT"):
        Settings.from_environment({"SALTBUSH_PORT": value})


def test_installed_packages_bring_crop_folders_without_running(monkeypatch, tmp_path):
    """The entry point names package:folder; importing the package would fail."""
    package = tmp_path / "juniper_bench_crops"
    package.mkdir()
    (package / "__init__.py").write_text("raise RuntimeError")
    monkeypatch.syspath_prepend(str(tmp_path))
    point = EntryPoint("juniper", "juniper_bench_crops:tables", settings.FOLDER_GROUP)
    monkeypatch.setattr(settings, "entry_points", lambda group: [point] if group == settings.FOLDER_GROUP else [])
    assert Settings.from_environment({}).crop_folders[1:] == (package / "tables",)


def test_importing_the_package_and_its_settings_loads_nothing_heavy():
    heavy = ("flask", "sqlalchemy", "marshmallow", "babel", "orjson", "alembic")
    code = f"import service, service.settings, sys; print([name for name in {heavy!r} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True)
    assert done.stdout.strip() == "[]"


def test_the_command_line_starts_without_loading_what_it_does_not_need():
    code = "import service.commands, sys; print([name for name in ('flask', 'sqlalchemy') if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True)
    assert done.stdout.strip() == "[]"

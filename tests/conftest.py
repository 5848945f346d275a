"""Shared test set-up: the vectors script is imported as `make`, and each test may have a small vault of its own."""

from __future__ import annotations

import itertools
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

# How fast the machine is, is nobody's promise here.
settings.register_profile("any-machine", deadline=None, max_examples=40, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("any-machine")

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE / "vectors"), str(HERE / "actions"), str(HERE / "labels"), str(HERE / "bus"),
                str(HERE / "domain")]
sys.path.append(str(HERE / "bench"))  # last: a script there has the name of a package

from postgres_server import Server, running_server  # noqa: E402  (needs the path above)
from small_vault import SmallVault, build, copy_into, copy_of, on_server  # noqa: E402

ENGINES = ("sqlite", "postgresql")
# Files that take longest begin first, so that no process is left alone with one of them at the end.
LONG = ("test_outside_tools.py", "test_bench_command.py", "test_guided_swap_command.py", "test_fault_power.py",
        "test_fault_kills.py", "test_fault_flips.py")
_numbers = itertools.count(1)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The order of files alone is changed; xdist hands them out in it."""
    items.sort(key=lambda item: LONG.index(item.path.name) if item.path.name in LONG else len(LONG))


@pytest.fixture
def small(tmp_path: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[SmallVault]:
    """The small vault, to be changed at will."""
    made = copy_of(build(tmp_path_factory.getbasetemp() / "small-vault"), tmp_path)
    yield made
    made.close()


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    """A PostgreSQL server for the whole run; it starts when the first test asks for it."""
    with running_server() as running:
        running.sql("CREATE DATABASE sites")
        yield running


@pytest.fixture(params=ENGINES)
def engine_name(request: pytest.FixtureRequest) -> str:
    """Each engine in turn."""
    name: str = request.param
    return name


@pytest.fixture
def new_address(engine_name: str, tmp_path: Path, request: pytest.FixtureRequest) -> Callable[[], str]:
    """Gives the address of a place where no vault is yet, on the engine in turn."""
    if engine_name == "sqlite":
        return lambda: str(tmp_path / f"vault-{next(_numbers)}.db")
    server: Server = request.getfixturevalue("server")
    return lambda: server.url("sites", site=f"site{next(_numbers)}")


@pytest.fixture(scope="session")
def small_template(server: Server, tmp_path_factory: pytest.TempPathFactory) -> str:
    """A database that holds the small vault, to be copied."""
    server.sql("CREATE DATABASE small_template")
    copy_into(build(tmp_path_factory.getbasetemp() / "small-vault"), server.url("small_template", site="small"))
    return "small_template"


@pytest.fixture
def small_on(engine_name: str, tmp_path: Path, tmp_path_factory: pytest.TempPathFactory,
             request: pytest.FixtureRequest) -> Iterator[SmallVault]:
    """The small vault on each engine in turn, to be changed at will."""
    built = build(tmp_path_factory.getbasetemp() / "small-vault")
    made = copy_of(built, tmp_path)
    if engine_name == "postgresql":
        server: Server = request.getfixturevalue("server")
        database = f"small{next(_numbers)}"
        server.sql(f"CREATE DATABASE {database} TEMPLATE {request.getfixturevalue('small_template')}")
        made = on_server(made, server.url(database, site="small"))
    yield made
    made.close()
    if engine_name == "postgresql":
        server.sql(f"DROP DATABASE {database} WITH (FORCE)")

"""Whatever sound specification is written as a file is read back as it was."""

from dataclasses import replace
from pathlib import Path

from hypothesis import HealthCheck, given, settings

from ribbonbar.spec.model import Specification
from ribbonbar.spec.reader import check, read_specification
from tests.spec.written import specifications, toml_of


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(specifications())
def test_what_is_written_is_read(tmp_path_factory, specification: Specification) -> None:
    """Every award, ribbon, colour, order, rule and source comes back equal, and the check finds no fault."""
    file: Path = tmp_path_factory.getbasetemp() / "written.toml"
    file.write_text(toml_of(specification), encoding="utf-8")
    assert [str(fault) for fault in check([file])] == []
    assert replace(read_specification([file]), editions=()) == specification

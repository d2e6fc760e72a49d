import made_up_record
import pytest

from booth.reports.html import render_html
from booth.reports.traces import Traces


@pytest.fixture(scope="session")
def record() -> dict:
    return made_up_record.record()


@pytest.fixture(scope="session")
def traces() -> Traces:
    return made_up_record.traces()


@pytest.fixture(scope="session")
def page(record: dict, traces: Traces) -> str:
    return render_html(record, traces)

"""One waiting process for all tests here: loading the vocabulary takes seconds."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.crash.zygote import Zygote


@pytest.fixture(scope="session")
def waiting() -> Iterator[Zygote]:
    """The process that services are forked from."""
    with Zygote() as started:
        yield started


@pytest.fixture
def zygote(waiting: Zygote) -> Iterator[Zygote]:
    """The same, with nothing running and an empty log."""
    yield waiting
    waiting.end_all()

"""What every test may ask for."""

import os
from pathlib import Path

import pytest
from hypothesis import settings

# The same examples on every run and every machine: a red build can be repeated.
settings.register_profile("ci", derandomize=True, deadline=None)
settings.load_profile("ci")


@pytest.fixture(scope="session")
def vectors() -> Path:
    """Find the public test vectors: BAILEE_VECTORS, or ../shared/vectors beside the repository."""
    beside = Path(__file__).resolve().parents[2] / "shared" / "vectors"
    folder = Path(os.environ.get("BAILEE_VECTORS", beside))
    if not folder.is_dir():
        pytest.skip(f"no public test vectors at {folder} (set BAILEE_VECTORS)")
    return folder

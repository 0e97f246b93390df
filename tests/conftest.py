"""What all tests share."""

import pytest


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--renew-golden",
        action="store_true",
        help="write the golden pictures anew instead of comparing with them",
    )

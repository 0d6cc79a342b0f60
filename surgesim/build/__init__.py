"""Scenario to network: one module per thing that is wired."""

from surgesim.build.whole import build

__all__ = ["build"]

"""Every act that the program offers as something to do now: as it is written in the source, and as findings
of bad visits tell it.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import bailee.operations
import bailee.planning
import bailee.rules
from bailee.rules.readers import Step
from bailee.rules.registry import Finding, evaluate
from bailee.rules.remedies import do
from builders import CLERK, INSPECTOR, STEPS, Story, visit


def written() -> Iterator[Step]:
    """Every act in the source of the rules, of planning and of operations, also those that a situation
    chooses.
    """
    for package in (bailee.rules, bailee.planning, bailee.operations):
        for file in sorted(Path(str(package.__file__)).parent.rglob("*.py")):
            for node in ast.walk(ast.parse(file.read_text("utf-8"))):
                if (
                    isinstance(node, ast.Call)
                    and isinstance(node.func, ast.Name)
                    and node.func.id in ("do", "act")
                ):
                    name, *about = (literal(each) for each in node.args)
                    if isinstance(name, str):
                        yield do(
                            name,
                            *about,
                            **{each.arg: literal(each.value) for each in node.keywords if each.arg},
                        )


def literal(node: ast.expr) -> Any:
    """A constant; anything else is one that the program fills in."""
    return node.value if isinstance(node, ast.Constant) else ...


def spoilt() -> list[tuple[str, list[Finding]]]:
    """Stories with many faults, asked at every step."""
    told: list[tuple[str, list[Finding]]] = []
    for step, story in zip(STEPS[1:], spoilt_stories(), strict=True):
        told.append((step, evaluate(story.case())))
        told.append(
            (
                step,
                evaluate(story.case(sealing=story.sealing(total=9, across_opening=False, plain_tape=True))),
            )
        )
        told.append((step, evaluate(story.case(shipping=story.shipping(tracking=None, kid=INSPECTOR.kid)))))
    return told


def spoilt_stories() -> Iterator[Story]:
    """A story with many faults up to every step."""
    for step in STEPS[1:]:
        story = visit(
            step,
            lot={"expiry": "2026-11", "samples": 5},
            first={
                "covers_on": False,
                "flow_after": "12.0",
                "serial": None,
                "room": None,
                "point": None,
                "label_on": "bag",
            },
            second={"height_m": "0.2", "space": "attic", "label_prints": 2, "dust": "heavy"},
            outdoor={"weather": None, "distance_m": "1.0", "near": [], "height_m": "0.2"},
            opened={"preparation": None, "question_given": False, "remediator": True, "license": None},
        )
        story.collected(0, by=CLERK, after=None)
        yield story

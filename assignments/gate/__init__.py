"""The gate: has the foundation been met consistently? Days and a rule in, a ``Standing`` with its reasons out.

Pure, and standard library only: no clock, no rows, no Django. The rule in words, with every default's reason, is
``assignments/data/gate.toml``; ``evaluate`` says where a student stands at the end of a day.

The modules, in the order in which an answer comes about: ``rule`` (what is asked), ``records`` (tries folded into
days), ``calendar`` (paused days cut out), ``ledger`` (days judged; what a test finds), ``walk`` (opening and shutting
by the rule), ``evaluate`` (a teacher's word above it, breaks, and the reasons).
"""

from assignments.gate.evaluate import evaluate
from assignments.gate.records import HIT, Day, Decision, RuleFrom, Spell, Standing, State, Try, Verdict, Window, days
from assignments.gate.rule import DEFAULT, RANGES, Range, Rule, RuleError, outside_range, rule_from

__all__ = [
    "DEFAULT",
    "HIT",
    "RANGES",
    "Day",
    "Decision",
    "Range",
    "Rule",
    "RuleError",
    "RuleFrom",
    "Spell",
    "Standing",
    "State",
    "Try",
    "Verdict",
    "Window",
    "days",
    "evaluate",
    "outside_range",
    "rule_from",
]

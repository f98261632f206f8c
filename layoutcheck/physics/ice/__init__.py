"""The ice: one plug's freeze, hold and thaw, as an estimate with its spread.

`freeze_pipe` (in `answer`) gives a report for one pipe; `freeze_answer` (in `model`) gives the
values the rules use. The compiled solver is loaded only when `model` is imported.
"""

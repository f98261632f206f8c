"""The ice: one plug's freeze, hold and thaw, as an estimate with its spread.

`freeze_pipe` (in `answer`) gives a report for one pipe; `freeze_answers` (in `model`) gives the
values the rules use, of many pipes at once. The solver is loaded only when `model` is imported.
"""

"""Many sites at once: which valves, pumps or stated works can be isolated by freezing, and how.

- **One item** (`survey/ask.py`) is one work on one layout: the stated work is replaced by 'valve
  V' or 'pump P', and `plan_layout` answers, so a row says what `layoutcheck plan` would. Only a
  plan that passed afresh is `compliant`. A search without a plan proves nothing while the layout
  leaves something open (`report/doubts.py`, as for `plan`): that is `undecided`, never `none`.
- **Same everywhere.** A search ends after a number of steps (`--steps`), not of seconds, so its
  answer does not hang on the machine. The time limit is a second line; a row it cut short says
  so. A step that never ends is broken off from another thread (`survey/deadline.py`).
- **The journal** (`survey/journal.py`) is the only state: a line for each finished item, with its
  CRC, flushed before it counts. The key is a digest of content, work, pack, settings and version,
  never of a path. A change of what a search answers needs a new version, or old journals answer
  for it. What may be otherwise next time (a dead worker, no memory, a file that can not be read)
  is not written down.
- **Tasks** (`survey/tasks.py`) carry the document's bytes and work for a slice of 2 s, then give
  back what they have: few are lost with a kill, and sending costs nothing. Workers keep the last
  layouts as they were read. `survey/run.py` knows any `Pool`; `survey/cluster.py` is the one on
  dask.
- **The table** is written in one pass from the journal, in the order of sites and items, under
  another name, then renamed.
"""

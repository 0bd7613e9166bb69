"""The shipped, invented library: its known truth, its simulated people, its printed numbers.

``python -m tests.invented`` writes ``evidence/studies`` anew, byte for byte;
``python -m tests.invented.refresh_told`` brings what recommendations were told up to date.
"""

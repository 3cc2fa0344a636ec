# SPDX-License-Identifier: MIT
"""The command line: the one room that prints, and the only one that knows the rule base."""

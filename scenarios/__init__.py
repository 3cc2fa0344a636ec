# SPDX-License-Identifier: MIT
"""Saved faults and sessions with their expected outcome, as YAML files."""

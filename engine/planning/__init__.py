# SPDX-License-Identifier: MIT
"""Chooses the next measurement: cheapest first, as long as it can still teach something."""

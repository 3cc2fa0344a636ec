# SPDX-License-Identifier: MIT
"""The reasoning engine: facts, circuit arithmetic, virtual chassis, ranking, planning, sessions, commands."""

# SPDX-License-Identifier: MIT
"""Loads kb/ into typed, frozen objects; a mistake names file, line, field and the nearest right word."""

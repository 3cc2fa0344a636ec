# SPDX-License-Identifier: MIT
"""Drawings: sockets, the screen, waveforms."""

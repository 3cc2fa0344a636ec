# SPDX-License-Identifier: MIT
"""The arithmetic of a receiver, one module per part; pure functions on SI numbers or numpy arrays."""

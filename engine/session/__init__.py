# SPDX-License-Identifier: MIT
"""One diagnosis from the first question to the proof of the repair."""

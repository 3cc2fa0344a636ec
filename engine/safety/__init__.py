# SPDX-License-Identifier: MIT
"""The state of the bench and the one gate that every advice passes."""

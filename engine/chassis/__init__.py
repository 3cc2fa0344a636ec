# SPDX-License-Identifier: MIT
"""A chassis as parts and test points, and the virtual set that computes what every fault would show."""

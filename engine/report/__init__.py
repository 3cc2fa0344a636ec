# SPDX-License-Identifier: MIT
"""Pages to keep: one HTML file each, with everything in it, that prints and needs no script."""

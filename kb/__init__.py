# SPDX-License-Identifier: MIT
"""What is true of the trade, as YAML files."""

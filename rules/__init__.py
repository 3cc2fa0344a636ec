# SPDX-License-Identifier: MIT
"""The rule base: one module per symptom family, plus tracing, rig and witnesses."""

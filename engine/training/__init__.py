# SPDX-License-Identifier: MIT
"""Training: a set with a hidden fault, hints with a price, what was learnt, and quizzes on the arithmetic."""

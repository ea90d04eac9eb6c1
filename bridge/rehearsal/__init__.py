"""The owner's own configuration on a scratch topic space: every step to the cut, without the real relay."""

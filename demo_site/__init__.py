"""An invented plant that plays the whole job through the real code; its numbers are no engineering limits."""

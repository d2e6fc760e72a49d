"""The truth bench: how often is a verdict wrong? See docs/truth.md and simulators/plain/."""

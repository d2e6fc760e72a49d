"""The read API beside the pages, and its OpenAPI description, both out of one table of calls."""

"""`make mutate`: are the tests of the lower half good enough to notice when one thing in it is wrong? See docs/mutation.md."""

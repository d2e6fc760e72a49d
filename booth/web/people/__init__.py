"""Who may do what: accounts, sessions, sign-in, and what keeps others from using them."""

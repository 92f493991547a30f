"""Steps from one version of the database to the next, in the order of their numbers; none is ever changed."""

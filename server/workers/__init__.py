"""Plans on processes of their own: warm, walled in, ended by a kill. Imports nothing, so that a worker starts bare."""

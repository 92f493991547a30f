"""What if: changes on a copied log, today's plan beside the changed ones, what a resource is worth, season odds."""

"""What to wind: frozen facts, and the reader of the files that say them."""

from winder.recipe.reader import read_recipe, read_recipe_text
from winder.recipe.samples import example_recipes, new_recipe_text

__all__ = ["example_recipes", "new_recipe_text", "read_recipe", "read_recipe_text"]

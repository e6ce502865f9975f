"""What a builder measured, held against what was predicted: ratios, fits, and mistakes that would explain them."""

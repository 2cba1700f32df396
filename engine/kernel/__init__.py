"""The floor of the house: values, errors and small array tools that every stage may use."""

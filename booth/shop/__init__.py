"""The shop's promises: configuration files read into frozen, validated models, and the requirements that follow from them."""

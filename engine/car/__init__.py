"""The practice car: a physical model of a petrol engine that every reading can be taken from."""

"""What other programs read, one module a form: the JSON of each command, SARIF, EPCIS, PROV."""

"""Ways into the records and out of them: skeletons, spreadsheets, labels, interchange files, signatures."""

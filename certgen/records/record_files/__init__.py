"""From the bytes of record files to sound records with their places; every refusal is named."""

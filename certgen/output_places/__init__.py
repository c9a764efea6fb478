"""Where a person lets certgen write: `places` says what gives way and what stays, `kinds` what lies there."""

"""The service that runs unattended from April to July: looks at the weather, takes news in, plans, issues, reminds.

`duties` says what is due, `service` does it through the ports of `desk`, `clockwork` wakes it; `handouts` and
`reminders` write what people get. No clock, file or network is read here but through what is handed in.
"""
